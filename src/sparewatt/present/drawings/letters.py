"""How wide a line of text is, so that labels can be kept apart before anybody has drawn them.

The widths are those of Atkinson Hyperlegible Next, regular and bold, in thousandths of the font size; a letter that is
not listed counts as a wide one. Italic is within 2 % of regular.
"""

from __future__ import annotations

import re

__all__ = ["width", "wrap"]

_UNKNOWN = 700
_BREAK = re.compile(r"[^ -]*-+ *|[^ -]+ *| +")  # a line may end after a space or a hyphen

# Read from the shipped font files: width -> the letters that have it.
_REGULAR_BY_WIDTH = {
    140: "\u2009",
    160: "'",
    210: ",.:;",
    236: "‘’",
    237: "|¦",
    240: "·",
    243: "`´",
    245: "j",
    252: "iìíîīįı",
    256: "¹",
    262: "lĺļ",
    265: "¸",
    266: "ï",
    280: " \xa0",
    286: "!¡",
    296: "ł",
    299: "()",
    301: '"',
    314: "f",
    317: "[ľ",
    326: "tţť",
    344: "]{}",
    349: "rŕř",
    352: "°",
    356: "¯",
    362: "-",
    368: "¨",
    371: "ª",
    372: "_",
    380: "º",
    382: "²",
    383: "³",
    387: "/\\",
    392: "IÌÍÎÏĪĮİ",
    399: "“”",
    407: "1",
    438: "•",
    449: "yýÿŷ",
    450: "¿",
    460: "zźżž",
    461: "v",
    471: "sśşš",
    480: "?",
    481: "x",
    485: "*c¢çćċč",
    492: "kķ",
    497: "ĳ",
    504: "–",
    509: "¶",
    510: "7",
    512: "J",
    525: "aàáâãäåāăą",
    528: "§",
    532: "×",
    538: "eèéêëēėęě",
    540: "uùúûüūůűų",
    541: "LĹĻĽ",
    548: "2oòóôõöøő",
    550: "hnñħńņňμ",
    552: "F^",
    553: "<>",
    555: "~",
    558: "TgğġģŢŤ",
    562: "«»",
    564: "dđ",
    565: "ð",
    566: "bpþ",
    569: "EÈÉÊËĒĖĘĚ",
    571: "Ł",
    574: "q",
    575: "Y¥ÝŶŸ",
    576: "3",
    579: "±≤≥",
    580: "¤",
    582: "ß",
    588: "5",
    592: "$PSÞŚŞŠ",
    593: "V",
    595: "9",
    598: "6",
    602: "¬",
    606: "+÷−",
    607: "ZŹŻŽ",
    610: "£",
    613: "B",
    614: "4RŔŘ",
    615: "8",
    623: "X",
    626: "AÀÁÂÃÄÅĀĂĄ",
    628: "=",
    631: "KĶ",
    634: "ď",
    645: "CÇĆĊČ",
    648: "0",
    651: "#",
    669: "DĎ",
    670: "…",
    674: "Ω",
    684: "wŵ",
    689: "ÐĐ",
    690: "UÙÚÛÜŪŮŰŲ",
    693: "NÑŃŅŇ",
    694: "GHĞĠĢĦ",
    714: "OÒÓÔÕÖØŐ",
    724: "Q",
    731: "&",
    774: "∞",
    778: "@",
    798: "©®",
    816: "¼",
    820: "½",
    824: "M—",
    845: "m",
    856: "WŴ",
    866: "æ",
    867: "¾",
    891: "Æ",
    904: "Ĳ",
    919: "%",
    924: "œ",
    1006: "Œ",
}
_BOLD_BY_WIDTH = {
    156: "\u2009",
    210: "'",
    254: "|¦",
    259: "j",
    269: "‘’",
    271: ",",
    272: ".:;",
    284: "¹",
    288: "`´",
    294: "·",
    297: "¸",
    300: "iìíîīįı",
    303: "!¡",
    312: " \xa0",
    314: "ï",
    318: "lĺļ",
    335: "()",
    340: "[",
    344: "]",
    348: "ł",
    365: "fľ",
    373: "-",
    376: "rtŕřţť",
    381: "{}",
    383: "¯",
    390: '"ª',
    394: "°",
    400: "_",
    402: "²",
    403: "º",
    407: "³",
    424: "IÌÍÎÏĪĮİ",
    432: "¨",
    438: "•",
    440: "/1\\",
    479: "“”",
    485: "*",
    501: "–",
    505: "zźżž",
    508: "sśşš",
    510: "c¢çćċč",
    521: "y¶ýÿŷ",
    526: "¿",
    530: "v",
    536: "×",
    537: "7~",
    539: "x",
    547: "?",
    552: "LaàáâãäåāăąĹĻĽ",
    555: "k§ķ",
    559: "ĳ",
    561: "J",
    563: "eèéêëēėęě",
    566: "F",
    567: "uùúûüūůűų",
    569: "<>",
    571: "9hnñħńņň",
    576: "oòóôõöøő",
    579: "2",
    582: "^Ł",
    588: "ð",
    591: "≤≥",
    593: "g¤ğġģ",
    595: "+÷−",
    596: "bdpþđ",
    597: "EÈÉÊËĒĖĘĚ",
    599: "q",
    600: "3",
    602: "μ",
    607: "5TŢŤ",
    610: "$SŚŞŠ",
    611: "±",
    612: "=",
    615: "¬",
    618: "ZŹŻŽ",
    621: "ß",
    624: "48",
    626: "6",
    629: "PÞ",
    634: "£",
    643: "B",
    644: "V",
    649: "«»",
    650: "RY¥ÝŔŘŶŸ",
    651: "Ω",
    658: "CÇĆĊČ",
    659: "0",
    663: "KĶ",
    678: "AÀÁÂÃÄÅĀĂĄ",
    685: "X",
    686: "UÙÚÛÜŪŮŰŲ",
    688: "DĎ",
    694: "ď",
    701: "HĦ",
    708: "ÐĐ",
    717: "NÑŃŅŇ",
    718: "GĞĠĢ",
    725: "&",
    740: "wŵ",
    746: "OÒÓÔÕÖØŐ",
    755: "∞",
    756: "Q",
    765: "#",
    780: "…",
    781: "@",
    798: "©®",
    832: "—",
    846: "¼",
    852: "½",
    858: "M",
    878: "æ",
    882: "m",
    886: "WŴ",
    921: "¾",
    936: "œ",
    966: "Æ",
    969: "%",
    985: "Ĳ",
    1024: "Œ",
}
_REGULAR = {letter: wide for wide, letters in _REGULAR_BY_WIDTH.items() for letter in letters}
_BOLD = {letter: wide for wide, letters in _BOLD_BY_WIDTH.items() for letter in letters}


def width(text: str, size: float, *, bold: bool = False) -> float:
    """Length of one line of text at that font size, in the same measure as the size."""
    table = _BOLD if bold else _REGULAR
    return sum(table.get(letter, _UNKNOWN) for letter in text) * size / 1000.0


def wrap(text: str, room: float, size: float, *, bold: bool = False, most: int = 99) -> list[str]:
    """Text broken into lines no longer than `room`, at most `most` of them; the last one then ends in an ellipsis.

    A single word that is too long is cut; nothing is ever wider than the room.
    """
    lines: list[str] = []
    line = ""
    for word in _BREAK.findall(text):
        joined = line + word
        if width(joined.rstrip(" "), size, bold=bold) <= room:
            line = joined
            continue
        if line:
            lines.append(line.rstrip(" "))
        line = word
        while width(line.rstrip(" "), size, bold=bold) > room and len(line) > 1:
            head = _fit(line, room, size, bold)
            lines.append(head)
            line = line[len(head) :]
    lines.append(line.rstrip(" "))
    if len(lines) > most:
        lines = [*lines[: most - 1], _clip(f"{lines[most - 1]} {lines[most]}", room, size, bold)]
    return lines


def _fit(word: str, room: float, size: float, bold: bool) -> str:
    """The longest beginning of a word that fits, never empty."""
    cut = len(word)
    while cut > 1 and width(word[:cut], size, bold=bold) > room:
        cut -= 1
    return word[:cut]


def _clip(text: str, room: float, size: float, bold: bool) -> str:
    """Text shortened to fit, with an ellipsis."""
    while text and width(text + "\u2026", size, bold=bold) > room:
        text = text[:-1]
    return text.rstrip() + "\u2026"
