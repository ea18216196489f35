"""Reports under other people's eyes: html5lib parses each strictly (the HTML standard's own parse errors), Chromium shows it
and prints it, axe-core (WCAG rules and good practice) looks at it on a phone's width.

    check_html.py TEST_REPORT_HTML AXE_MIN_JS FOLDER

TEST_REPORT_HTML writes its pages into FOLDER. What is checked besides: that nothing in a page can load or run anything, that
names which try to run do not, with and without the page's own Content Security Policy, that nothing is wider than a phone, and
how many sheets of paper each takes.
"""
import html
import json
import os
import re
import shutil
import subprocess
import sys

import html5lib

POLICY = ('<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; style-src \'unsafe-inline\'; '
          'img-src data:">')
PHONE_PX = 360
PAPERS = {"A4": "A4", "letter": "letter", "A5": "A5", "half a letter": "5.5in 8.5in"}
RUNS = {"script", "iframe", "object", "embed", "link", "base", "form", "frame", "applet", "svg", "math", "template"}
LOADS = {"src", "href", "srcset", "action", "formaction", "data", "poster", "background", "ping", "manifest"}

failures = []
checks = 0


def check(good, what):
    global checks
    checks += 1
    if not good:
        failures.append(what)
        print("failed:", what)


def chromium(arguments, page):
    command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=30000", *arguments,
               "file://" + page]
    return subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=120, check=True).stdout.decode()


def write(path, text):
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    return path


# ---- The markup --------------------------------------------------------------------

def check_markup(name, text):
    try:
        tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    except html5lib.html5parser.ParseError as error:
        check(False, f"{name}: parse error: {error}")
        return
    check(text.count(POLICY) == 1, f"{name}: the policy stands in it")
    headings, ids = [], []
    for element in tree.iter():
        if not isinstance(element.tag, str):
            check(False, f"{name}: holds a comment")
            continue
        check(element.tag not in RUNS, f"{name}: <{element.tag}>")
        for attribute, value in element.attrib.items():
            check(not attribute.startswith("on"), f"{name}: {attribute}")
            if attribute in LOADS:
                inside = value.startswith("data:image/svg+xml;base64,") if element.tag == "img" else value.startswith("#")
                check(inside, f"{name}: {attribute}={value[:60]}")
            if attribute == "style":
                check(False, f"{name}: a style of its own")
        if element.tag == "style":
            check("url(" not in element.text and "@import" not in element.text, f"{name}: its style loads something")
        if re.fullmatch("h[1-6]", element.tag):
            headings.append(int(element.tag[1]))
        if element.tag == "img":
            check(len(element.get("alt", "")) > 20, f"{name}: a picture without words")
        if "id" in element.attrib:
            ids.append(element.get("id"))
    check(headings.count(1) == 1 and headings[0] == 1, f"{name}: one h1, first")
    check(all(below <= above + 1 for above, below in zip(headings, headings[1:])), f"{name}: headings in order")
    check(len(ids) == len(set(ids)), f"{name}: ids are single")
    for link in re.findall(r'href="#([^"]*)"', text):
        check(link in ids, f"{name}: nothing there to go to: {link}")


# ---- On a phone --------------------------------------------------------------------

ASK = """<script>axe.run(document, {resultTypes: ["violations"]}).then(function (result) {
  var told = result.violations.map(function (one) {
    return one.id + ": " + one.nodes.map(function (node) { return node.html.slice(0, 90) }).slice(0, 3).join(" | ");
  });
  parent.document.getElementById("told").textContent = "BEGIN" + JSON.stringify({violations: told,
    passes: result.passes.length, width: document.documentElement.scrollWidth, inner: innerWidth}) + "END";
});</script>"""


# In a frame as wide as a phone: Chromium's own window is never narrower than 500 pixels.
def look(text, axe, folder, width=PHONE_PX):
    inside = text.replace(POLICY, "").replace("</body>", f"<script>{axe}</script>{ASK}</body>")
    frame = write(os.path.join(folder, "frame.html"), "<!DOCTYPE html><title>frame</title><pre id=told></pre><iframe "
                  f"style=\"width:{width}px;height:800px;border:0\" srcdoc=\"{html.escape(inside)}\"></iframe>")
    told = re.search(r"BEGIN(\{.*?\})END", chromium(["--dump-dom"], frame), re.S)
    return json.loads(html.unescape(told.group(1))) if told else None


def check_look(name, text, axe, folder):
    told = look(text, axe, folder)
    check(told is not None, f"{name}: axe gives a result")
    if told:
        check(told["passes"] > 10, f"{name}: axe looked at something")
        check(told["inner"] == PHONE_PX, f"{name}: as wide as a phone")
        check(told["width"] <= PHONE_PX, f"{name}: {told['width']} pixels wide")
        for violation in told["violations"]:
            check(False, f"{name}: axe: {violation}")


# ---- What must not run -------------------------------------------------------------

def title_shown(text, folder):
    dom = chromium(["--dump-dom"], write(os.path.join(folder, "title.html"), text))
    return html.unescape(re.search(r"<title>(.*?)</title>", dom, re.S).group(1))


def check_title(name, text, folder):
    meant = html.unescape(re.search(r"<title>(.*?)</title>", text, re.S).group(1))
    check("RAN" in meant, f"{name}: its title is hostile")  # the one that is typed in it, not what it would set
    check(title_shown(text, folder) == meant, f"{name}: its title stays")
    check(title_shown(text.replace(POLICY, ""), folder) == meant, f"{name}: its title stays without the policy")


# That the check can see such a thing: the same page with a name put in as it is.
def check_control(text, folder):
    for name in ("<script>document.title='RAN'</script>", "<img src=x onerror=\"document.title='RAN'\">",
                 "<svg onload=\"document.title='RAN'\"></svg>"):
        spoilt = text.replace("</main>", name + "</main>")
        check(title_shown(spoilt.replace(POLICY, ""), folder) == "RAN", f"control runs: {name}")
        check(title_shown(spoilt, folder) != "RAN", f"the policy stops: {name}")


# ---- On paper ----------------------------------------------------------------------

def sheets(text, paper, folder):
    page = write(os.path.join(folder, "paper.html"), text.replace("</style>", f"@page{{size:{paper}}}</style>"))
    pdf = os.path.join(folder, "paper.pdf")
    chromium([f"--print-to-pdf={pdf}", "--no-pdf-header-footer"], page)
    told = subprocess.run(["pdfinfo", pdf], stdout=subprocess.PIPE, check=True).stdout.decode()
    return int(re.search(r"Pages:\s+(\d+)", told).group(1))


def check_paper(name, text, most, papers, folder):
    for paper in papers:
        count = sheets(text, PAPERS[paper], folder)
        check(count <= most, f"{name}: {count} sheets of {paper}, wanted at most {most}")


# ------------------------------------------------------------------------------------

def main():
    program, axe_path, folder = sys.argv[1:]
    shutil.rmtree(folder, ignore_errors=True)
    os.makedirs(folder)
    folder = os.path.abspath(folder)
    subprocess.run([program, "--write", folder], check=True, stdout=subprocess.DEVNULL)
    pages = sorted(os.listdir(folder))
    check(len(pages) == 18, f"18 pages were written: {len(pages)}")
    with open(axe_path, encoding="utf-8") as file:
        axe = file.read()
    for name in pages:
        with open(os.path.join(folder, name), encoding="utf-8") as file:
            text = file.read()
        check_markup(name, text)
        check_look(name, text, axe, folder)
        if name.startswith("hostile"):
            check_title(name, text, folder)
        if name == "plain-customer.html":
            check_control(text, folder)
            check_paper(name, text, 4, ("A4", "letter"), folder)
        if name == "plain-shop.html":
            check_paper(name, text, 12, ("A4", "letter"), folder)
        if name.endswith("spray-room.html") and not name.startswith("hostile"):
            check_paper(name, text, 1, PAPERS, folder)
    print(f"{checks - len(failures)} passed, {len(failures)} failed")
    return 1 if failures else 0


sys.exit(main())
