"""The first day of the brief as two screens of a telephone side by side: the answer, then strip and map. Tables are left out."""
import re

SCREEN, GAP, HIGH, SCALE = 390, 14, 1010, 2
FIRST_ONLY = "section.day~*,section.day~section,footer{display:none!important}body{font-family:'DejaVu Sans',sans-serif!important}"
ANSWER = ".strip,.late-of-day,.jumps,.wide,.map,section.day h3,section.day>:not(h2,.pair){display:none!important}"
DRAWN = "header,section.day h2,.words-of-day,.late-of-day,.jumps,.wide,section.day>:not(.pair,.map){display:none!important}"


# What is seen of the brief.
SEEN = ["<header>.*?</header>", '<div class="words-of-day">.*?</div>', '<figure class="strip" id="[^"]*">.*?</figure>', '<figure class="map" id="[^"]*">.*?</figure>']


def seen(brief):
    """The parts of a brief that the picture shows."""
    text = brief.read_text(encoding="utf-8")
    return "".join(re.search(part, text, re.DOTALL).group(0) for part in SEEN)


def screens(brief, folder):
    """A page with both screens, and its size."""
    text = brief.read_text(encoding="utf-8")
    for name, hidden in (("answer", ANSWER), ("drawn", DRAWN)):
        (folder / f"{name}.html").write_text(text.replace("</head>", f"<style>{FIRST_ONLY}{hidden}</style></head>"), encoding="utf-8")
    frame = '<iframe src="{}.html" style="border:1px solid #9a9a9a;border-radius:14px;width:{}px;height:{}px" scrolling="no"></iframe>'
    frames = "".join(frame.format(name, SCREEN, HIGH - 4) for name in ("answer", "drawn"))
    page = folder / "screens.html"
    style = f"margin:0;display:flex;gap:{GAP}px;background:#fff"
    page.write_text(f'<!DOCTYPE html><meta charset="utf-8"><body style="{style}">{frames}</body>', encoding="utf-8")
    return page, (2 * SCREEN + GAP + 4, HIGH)
