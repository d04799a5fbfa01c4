package sheet

import (
	"encoding/json"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// phoneWidth is a common width of telephones held upright, CSS pixels; no standard.
const phoneWidth = 390

// onPhone opens pages in one headless Chromium, each in a frame as wide as a telephone, and returns for each what
// does not fit: the page, a table, a word that runs out of its cell, contents whose columns stand out of line.
func onPhone(t *testing.T, pages ...[]byte) [][]string {
	t.Helper()
	chromium := tool(t, "chromium")
	var b strings.Builder
	b.WriteString("<!DOCTYPE html><body>")
	for _, p := range pages {
		fmt.Fprintf(&b, `<iframe style="border:0;width:%dpx;height:800px" srcdoc="%s"></iframe>`, phoneWidth, html.EscapeString(string(policy.ReplaceAll(p, nil))))
	}
	b.WriteString(`<script>addEventListener("load", () => {
		const answer = [...document.querySelectorAll("iframe")].map(f => {
			const d = f.contentDocument, out = [];
			if (d.documentElement.scrollWidth > d.documentElement.clientWidth) out.push("page");
			for (const s of d.querySelectorAll(".scroll")) if (s.scrollWidth > s.clientWidth + 1) out.push("table " + s.getAttribute("aria-label"));
			for (const c of d.querySelectorAll("table th, table td")) if (c.scrollWidth > c.clientWidth + 1 && getComputedStyle(c).display != "inline") out.push("cell " + c.textContent);
			const words = d.createTreeWalker(d.body, NodeFilter.SHOW_TEXT), range = d.createRange();
			for (let n; n = words.nextNode();) {
				if (!n.parentElement.closest("tbody")) continue;
				for (const m of n.data.matchAll(/\w+/g)) { // a word in two boxes is broken inside
					range.setStart(n, m.index); range.setEnd(n, m.index + m[0].length);
					if (new Set([...range.getClientRects()].map(r => Math.round(r.top))).size > 1) out.push("word " + m[0]);
				}
			}
			return out;
		});
		const p = document.createElement("pre"); p.id = "phone-found"; p.textContent = JSON.stringify(answer); document.body.replaceChildren(p);
	})</script></body>`)
	dir := t.TempDir()
	file := filepath.Join(dir, "frames.html")
	if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
		"--disable-sync", "--user-data-dir="+filepath.Join(dir, "profile"), "--window-size=1000,1400", "--virtual-time-budget=20000", "--dump-dom", "file://"+file).Output()
	if err != nil {
		t.Fatalf("chromium: %v", err)
	}
	m := regexp.MustCompile(`(?s)<pre id="phone-found">(.*?)</pre>`).FindSubmatch(out)
	if m == nil {
		t.Fatal("the frames gave no answer")
	}
	var list [][]string
	if err := json.Unmarshal([]byte(html.UnescapeString(string(m[1]))), &list); err != nil {
		t.Fatal(err)
	}
	return list
}

// TestPhone: on a telephone the print table was cut off at the right and broke inside words. All pages share one
// browser, among them one without the cards, which must be found.
func TestPhone(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	var pages [][]byte
	var names []string
	for _, x := range []struct{ name, variant, language string }{{"vent-minder", "stack", "en"}, {"seed-dryer", "plain", "de"}} {
		in, images := demo(t, x.name, x.variant, x.language)
		pages, names = append(pages, printed(t, Compose(in), images)), append(names, x.name)
	}
	bad := []byte(strings.ReplaceAll(string(pages[0]), `class="cards`, `class="`))
	found := onPhone(t, append(pages, bad)...)
	for i, name := range names {
		for _, x := range found[i] {
			t.Errorf("%s: does not fit %d pixels: %s", name, phoneWidth, x)
		}
	}
	if len(found[len(pages)]) == 0 {
		t.Error("a table of ten columns is said to fit")
	}
}
