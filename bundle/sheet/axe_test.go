package sheet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"dropwright/bundle/bom"
)

// axe is the accessibility checker of npm's axe-core, installed by `npm ci` in .ci/npm.
const axe = "../../.ci/npm/node_modules/axe-core/axe.min.js"

// axeViolation is what axe reports.
type axeViolation struct {
	ID     string
	Impact string
	Help   string
	Nodes  []struct{ HTML string }
}

var (
	policy = regexp.MustCompile(`<meta http-equiv="Content-Security-Policy"[^>]*>`)
	found  = regexp.MustCompile(`(?s)<pre id="axe-found">(.*?)</pre>`)
)

// runAxe opens a page in headless Chromium with axe inside and returns what it finds. The page's own policy,
// which forbids scripts, is taken out for it.
func runAxe(t *testing.T, page []byte, flags ...string) []axeViolation {
	t.Helper()
	chromium := tool(t, "chromium")
	script, err := os.ReadFile(axe)
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("axe-core is needed here: run npm ci in .ci/npm")
		}
		t.Skip("NOT CHECKED: axe-core is not installed; run npm ci in .ci/npm")
	}
	const ask = `<script>axe.run(document, {resultTypes: ["violations"]}).then(r => {
		const p = document.createElement("pre"); p.id = "axe-found";
		p.textContent = JSON.stringify(r.violations.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.slice(0, 3).map(n => ({HTML: n.html.slice(0, 300)}))})));
		document.body.appendChild(p);
	})</script>`
	page = policy.ReplaceAll(page, nil)
	i := bytes.LastIndex(page, []byte("</body>"))
	var b bytes.Buffer
	b.Write(page[:i])
	b.WriteString("<script>")
	b.Write(script)
	b.WriteString("</script>" + ask)
	b.Write(page[i:])
	file := filepath.Join(t.TempDir(), "page.html")
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	args := append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
		"--disable-sync", "--user-data-dir=" + t.TempDir(), "--window-size=1000,1400", "--virtual-time-budget=20000", "--dump-dom"}, flags...)
	out, err := exec.Command(chromium, append(args, "file://"+file)...).Output()
	if err != nil {
		t.Fatalf("chromium: %v", err)
	}
	m := found.FindSubmatch(out)
	if m == nil {
		t.Fatal("axe gave no answer")
	}
	var list []axeViolation
	if err := json.Unmarshal([]byte(html.UnescapeString(string(m[1]))), &list); err != nil {
		t.Fatal(err)
	}
	return list
}

// TestAxe holds the largest demo sheet, light and dark, against axe-core: no violation at all.
func TestAxe(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	in, images := demo(t, "vent-minder", "stack", "en")
	page := printed(t, Compose(in), images)
	for _, flags := range [][]string{nil, {"--force-dark-mode"}} {
		for _, v := range runAxe(t, page, flags...) {
			t.Errorf("%v: %s (%s): %s: %v", flags, v.ID, v.Impact, v.Help, v.Nodes)
		}
	}
	bad := strings.Replace(string(page), `<html lang="en">`, `<html>`, 1)
	bad = regexp.MustCompile(` alt="[^"]*"`).ReplaceAllString(bad, "")
	ids := map[string]bool{}
	for _, v := range runAxe(t, []byte(bad)) {
		ids[v.ID] = true
	}
	if !ids["html-has-lang"] || !ids["image-alt"] {
		t.Errorf("axe does not see a page without language and alternative texts: %v", ids)
	}
}

// TestHTMLPrintsTrueToSize prints a page with Chromium, paints the PDF at 254 dpi (ten pixels a millimetre) with
// pdftoppm, and looks for the bar of 50 mm.
func TestHTMLPrintsTrueToSize(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	chromium, pdftoppm := tool(t, "chromium"), tool(t, "pdftoppm")
	in := hook()
	in.BOM.Variants[0].Fasteners = []bom.Fastener{{Designation: "ISO 4762 - M3 x 16", Kind: "screw", Count: 4}}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "page.html"), printed(t, Compose(in), nil), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
		"--disable-sync", "--user-data-dir="+t.TempDir(), "--no-pdf-header-footer", "--print-to-pdf="+filepath.Join(dir, "page.pdf"), "file://"+filepath.Join(dir, "page.html"))
	if err := cmd.Run(); err != nil {
		t.Fatalf("chromium: %v", err)
	}
	output(t, pdftoppm, "-r", "254", "-gray", filepath.Join(dir, "page.pdf"), filepath.Join(dir, "p"))
	pages, _ := filepath.Glob(filepath.Join(dir, "p-*.pgm"))
	longest := map[int]bool{}
	for _, p := range pages {
		for _, n := range darkRuns(t, p) {
			longest[n] = true
		}
	}
	// The bar with the wide lines (0.35 mm) of its end ticks is 503.5 pixels long.
	if !longest[503] && !longest[504] {
		t.Errorf("no dark run of 50 mm on %d pages: %v", len(pages), longest)
	}
}

// darkRuns are the lengths of dark stretches of 300 to 1000 pixels in the rows of a grey picture (Netpbm P5).
func darkRuns(t *testing.T, file string) []int {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var w, h, top int
	if _, err := fmt.Sscanf(string(data[:30]), "P5\n%d %d\n%d\n", &w, &h, &top); err != nil {
		t.Fatal(err)
	}
	pixels := data[len(data)-w*h:]
	var out []int
	for y := range h {
		run := 0
		for _, v := range append(pixels[y*w:(y+1)*w:(y+1)*w], 255) {
			if v < 128 {
				run++
				continue
			}
			if run > 300 && run < 1000 {
				out = append(out, run)
			}
			run = 0
		}
	}
	return out
}
