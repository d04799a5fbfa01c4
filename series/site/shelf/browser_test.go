package shelf

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// What judges the pages here comes from outside: Chromium by playwright-core, axe-core (accessibility, WCAG 2.2) and
// html-validate (conformance to HTML), all of `npm ci` in .ci/npm.
const npmFolder = "../../../.ci/npm"

// outside finds the programs, or says loudly that nothing was checked.
func outside(t *testing.T, programs ...string) {
	t.Helper()
	if testing.Short() {
		t.Skip("starts node")
	}
	for _, p := range programs {
		_, err := exec.LookPath(p)
		if strings.Contains(p, "/") {
			_, err = os.Stat(filepath.Join(npmFolder, "node_modules", p))
		}
		if err != nil {
			if os.Getenv("DROPWRIGHT_CI") != "" {
				t.Fatalf("%s is needed here: %v", p, err)
			}
			t.Skipf("SKIPPED LOUDLY: the readers' pages were not looked at, since %s is missing (npm ci in .ci/npm): %v", p, err)
		}
	}
}

// laid lays a place out on the disk, with its releases, and returns the folder.
func laid(t *testing.T, in Input, pages map[string][]byte) string {
	t.Helper()
	dir := t.TempDir()
	write := func(name string, data []byte) {
		file := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for name, data := range pages {
		write(name, data)
	}
	return dir
}

// look opens pages in Chromium, each light, dark, on a phone and as printed, and prints what axe finds, what the browser complains
// of, what it fetched, and whether a page is wider than its window.
const look = `
import { readFileSync, existsSync } from "node:fs";
import { execFileSync } from "node:child_process";
import { chromium } from "playwright-core";
const axe = readFileSync("node_modules/axe-core/axe.min.js", "utf8");
const pages = process.argv.slice(1);
const browser = await chromium.launch({ executablePath: execFileSync("sh", ["-c", "command -v chromium"], { encoding: "utf8" }).trim(), args: ["--no-sandbox"] });
const out = [];
for (const [name, options, media] of [["light", { colorScheme: "light" }], ["dark", { colorScheme: "dark" }], ["phone", { viewport: { width: 390, height: 844 } }], ["print", {}, "print"]]) {
  const context = await browser.newContext({ bypassCSP: true, ...options });
  for (const file of pages) {
    const page = await context.newPage();
    const said = [];
    page.on("console", m => said.push("console: " + m.text()));
    page.on("pageerror", e => said.push("error: " + e.message));
    page.on("request", r => { if (!r.url().startsWith("file:") && !r.url().startsWith("data:")) said.push("fetches " + r.url()); });
    page.on("requestfailed", r => said.push("failed: " + r.url()));
    await page.goto("file://" + file);
    if (media) await page.emulateMedia({ media });
    await page.evaluate(() => Promise.all([...document.images].map(i => { i.loading = "eager"; return i.decode().catch(() => {}); })));
    for (const i of await page.evaluate(() => [...document.images].filter(i => i.naturalWidth === 0).map(i => i.src))) said.push("no picture: " + i);
    if (await page.evaluate(() => document.documentElement.scrollWidth > document.documentElement.clientWidth + 1)) said.push("wider than its window");
    await page.addScriptTag({ content: axe });
    const found = await page.evaluate(() => axe.run(document, { resultTypes: ["violations"] }).then(r => r.violations.map(v => v.impact + " " + v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 200)).join(" | "))));
    out.push({ Page: file, How: name, Said: said, Found: found });
    await page.close();
  }
  await context.close();
}
// Without the test's own leave, the page's policy holds: a script that somebody put in does not run.
const strict = await browser.newContext();
const page = await strict.newPage();
await page.goto("file://" + pages[0]);
const ran = await page.evaluate(() => { const s = document.createElement("script"); s.textContent = "window.ran = true"; document.body.append(s); return window.ran === true; });
out.push({ Page: pages[0], How: "policy", Said: ran ? ["a script runs"] : [], Found: [] });
await browser.close();
process.stdout.write(JSON.stringify(out));`

type looked struct {
	Page, How   string
	Said, Found []string
}

func browse(t *testing.T, files ...string) []looked {
	t.Helper()
	outside(t, "node", "chromium", "playwright-core/package.json", "axe-core/axe.min.js")
	cmd := exec.Command("node", append([]string{"--input-type=module", "-e", look, "--"}, files...)...)
	cmd.Dir = npmFolder
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("node: %v\n%s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	var list []looked
	if err := json.Unmarshal(out, &list); err != nil || len(list) != 4*len(files)+1 {
		t.Fatalf("node printed %q: %v", out, err)
	}
	return list
}

// TestBrowser: no page fetches anything from elsewhere, complains, is wider than a phone, or has a violation that
// axe-core knows; and a page that does all that is told.
func TestBrowser(t *testing.T) {
	outside(t, "node", "chromium", "playwright-core/package.json", "axe-core/axe.min.js")
	in := place(t)
	pages := made(t, in)
	dir := laid(t, in, pages)
	var files []string
	for name := range pages {
		if strings.HasSuffix(name, ".html") && !strings.Contains(name, "sheet-") { // sheets are judged where they are made
			files = append(files, filepath.Join(dir, filepath.FromSlash(name)))
		}
	}
	slices.Sort(files)
	for _, x := range browse(t, files...) {
		name, _ := filepath.Rel(dir, x.Page)
		for _, s := range append(x.Said, x.Found...) {
			t.Errorf("%s, %s: %s", name, x.How, s)
		}
	}
	bad := bytes.Replace(pages["index.html"], []byte(`<html lang="en">`), []byte("<html>"), 1)
	bad = bytes.Replace(bad, []byte("</main>"), []byte(`<img src="https://elsewhere.invalid/x.png"><p style="width: 5000px">wide</p><script>console.log("x")</script></main>`), 1)
	file := filepath.Join(dir, "bad.html")
	if err := os.WriteFile(file, bad, 0o666); err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, x := range browse(t, file) {
		all += strings.Join(append(x.Said, x.Found...), "\n") + "\n"
	}
	for _, want := range []string{"fetches https://elsewhere.invalid/x.png", "serious html-has-lang", "critical image-alt", "wider than its window", "console: x"} {
		if !strings.Contains(all, want) {
			t.Errorf("a bad page passes: nobody says %q in\n%s", want, all)
		}
	}
}

// TestConform holds every page against html-validate's rules, and holds that it rejects a page that does not conform.
func TestConform(t *testing.T) {
	outside(t, "node", ".bin/html-validate")
	in := place(t)
	in.Rehearsal, in.Audience = true, "friends"
	pages := made(t, in)
	gone := place(t)
	gone.Language, gone.Releases = "de", gone.Releases[:1]
	for name, data := range made(t, gone) {
		pages["gone/"+name] = data
	}
	dir := laid(t, in, pages)
	check := func(files ...string) (string, error) {
		out, err := exec.Command(filepath.Join(npmFolder, "node_modules/.bin/html-validate"), append([]string{"--preset", "standard,a11y,document"}, files...)...).CombinedOutput()
		return string(out), err
	}
	var files []string
	for name := range pages {
		if strings.HasSuffix(name, ".html") {
			files = append(files, filepath.Join(dir, filepath.FromSlash(name)))
		}
	}
	slices.Sort(files)
	if out, err := check(files...); err != nil {
		t.Errorf("%v\n%.4000s", err, out)
	}
	file := filepath.Join(dir, "bad.html")
	if err := os.WriteFile(file, bytes.Replace(pages["index.html"], []byte(`<main id="main">`), []byte(`<main id="main"><p><div>`), 1), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := check(file); err == nil {
		t.Error("html-validate takes a div inside a paragraph")
	}
}
