"""What could break a part or hurt somebody: one module for each kind of finding; `findings` asks them all."""
