"""Phrases that read foreign in English, with what to write instead; checked over pages, comments and texts of the code."""
import re

# Pattern, what to write instead, an example that is found.
PHRASES = [
    (r"(?<!there )\bis no (?!longer|more\b|less|better|worse|higher|lower|farther|wider|such)\w+", "is not a ...", "x is no valid zone"),
    (r"(?<!there )\bare no (?!longer|more\b|less|better|worse|higher|lower|farther|wider|such)\w+", "are not ...", "they are no buildings"),
    (r"\bso many\b", "this many, at most N, as many as", "at most so many rows"),
    (r"\bso much (?!that\b|as\b|for\b|the\b)", "this much", "driven so much faster than the layer says"),
    (r"\btaken to (be|stand)\b", "assumed to be, assumed to stand", "the vehicle is taken to stand there"),
    (r"\bbeside (today|yesterday|last year|those of|figures|the figures|the same|the old|a closed form|closed forms|grass)", "compared with", "beside today's layer"),
    (r"\b(compared|compare|measured|held|set) beside\b", "compared with", "two runs compared beside each other"),
    (r"\b(its|the|their|by|at) begin\b(?! and)", "its start, in order of start", "counted from its begin"),
    (r"\bstands? (once|twice|several times)\b", "appears twice, is listed twice", "a word stands twice"),
    (r"\b(knows|know|knew) no\b", "has no, does not know any", "the layer knows no place there"),
    (r"\bof which (the map|the tags?) says? no\b", "whose ... the map does not give", "of which the map says no use"),
    (r"\b(says?|tells?) of (itself|themselves)\b", "says about itself", "what a meeting says of itself"),
    (r"\ball what\b", "all that", "all what is known"),
    (r"\b(allows?|enables?|permits?) to\b", "allows ...ing, lets", "this allows to skip it"),
    (r"\b(depends?|depending) (of|from)\b", "depends on", "it depends from the road"),
    (r"\bconsists? (in|out of)\b", "consists of", "it consists out of two parts"),
    (r"\bequals to\b", "equals, is equal to", "it equals to zero"),
    (r"\bin case that\b", "if", "in case that it fails"),
    (r"\bdifferent than\b", "different from", "a layer different than that"),
    (r"\bsince \w+ (years|months|weeks|days|hours|minutes)\b", "for N days", "since two days"),
    (r"\b(informations|advices|evidences|softwares|feedbacks|knowledges)\b", "without the s", "more informations"),
    (r"\bthe both\b", "both", "the both ends"),
    (r"\bmore (early|easy|fast|high|low|near|far)\b", "earlier, easier, faster", "it is more fast"),
    (r"\bhow (it|this|that|they) looks? like\b", "what it looks like", "how it looks like"),
    (r"\bby far not\b", "nowhere near", "by far not enough"),
    (r"\b(is|are) to be had\b", "can be had, is available", "where none are to be had"),
    (r"\blets itself\b", "can be", "it lets itself divide"),
    (r"\bin the contrary\b", "on the contrary", "in the contrary"),
    (r"\bwithout that\b", "without ...ing, unless", "ends without that it says so"),
    (r"\b(eventual|actual) (driver|meeting|error)s?\b", "possible, current", "eventual errors"),
    (r"\bas (good|well) as (none|nothing|nobody)\b", "hardly any", "as good as none"),
    (r"\bup to (what|how much) it\b", "how far it", "up to what it reaches"),
]
# Asked of lower case: much faster than patterns that ignore case.
COMPILED = [(re.compile(pattern), better) for pattern, better, _ in PHRASES]
FOLDERS = ("src", "scripts", "benches")
KINDS = {".rs", ".py", ".md", ".txt", ".toml", ""}
# This list, the page of faults, and tables of others.
LEFT_OUT = {"scripts/pages/phrases.py", "scripts/pages/faults.md", "src/calendar/windows_zones.txt", "src/map/place/legal_speeds.txt"}


def texts(root, pages):
    """Files whose words are checked: pages, sources, scripts."""
    below = [p for folder in FOLDERS for p in sorted((root / folder).rglob("*"))]
    files = [p for p in below if p.is_file() and p.suffix in KINDS and "__pycache__" not in p.parts]
    return [p for p in dict.fromkeys([*pages, *files]) if str(p.relative_to(root)) not in LEFT_OUT]


def found(text):
    """Line, phrase and what to write instead. A phrase may go on in the next line of a text or comment."""
    flat = re.sub(r"(?:\\)?\n[ \t]*(?:///?!?|#|\*)?[ \t]*", lambda m: "\n" + " " * (len(m.group(0)) - 1), text)
    flat = flat.replace("\n", " ")
    squeezed = [(m.start(), m.group(0)) for m in re.finditer(r"\S+", flat)]
    joined, starts = [], []
    for start, word in squeezed:
        starts.append((sum(map(len, joined[-1:])) + (starts[-1][0] if starts else 0) + (1 if joined else 0), start))
        joined.append(word)
    line = " ".join(joined)
    small = line.lower()
    out = []
    for pattern, better in COMPILED:
        for m in pattern.finditer(small):
            at = max((s for s in starts if s[0] <= m.start()), default=(0, 0))[1]
            out.append((text.count("\n", 0, at) + 1, line[m.start() : m.end()], better))
    return sorted(out)


def faults():
    """Entries that do not find their own example."""
    wrong = [f"phrases: {pattern} does not find {example!r}" for (pattern, _, example), (regex, _) in zip(PHRASES, COMPILED) if not regex.search(example.lower())]
    wrapped = found("one\n// so\n    // many rows\n")
    return wrong + ([] if [f[:2] for f in wrapped] == [(2, "so many")] else [f"phrases: wrapped lines give {wrapped}"])
