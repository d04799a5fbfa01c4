package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// allowed is the whole list of imports between our own packages, in words of folders. A pattern ending in /*
// means every package below. unit, finding and design are free to all under bundle and series but mesh and
// archive; the facades (bundle, series) may import all of theirs.
var allowed = map[string][]string{
	"cmd/dropwright":                       {"series", "series/*", "bundle", "bundle/*", "examples", "templates"},
	"examples":                             {},
	"examples/allotment-instruments/tools": {},
	"examples/broken/tools":                {},
	"templates":                            {},

	"series":             {"series/*", "bundle", "bundle/*"},
	"series/config":      {"bundle/source", "bundle/manifest"},
	"series/catalogue":   {"series/config", "bundle/source", "bundle/manifest"},
	"series/calendar":    {},
	"series/disk":        {},
	"series/disk/crash":  {"series/disk"},
	"series/ledger":      {"series/disk"},
	"series/history":     {},
	"series/target":      {},
	"series/target/*":    {"series/target", "series/disk", "series/target/targettest"},
	"series/target/hand": {"series/target", "series/disk", "series/target/dir"},
	"series/feed":        {"series/ledger"},
	"series/feed/*":      {},
	"series/report":      {},
	"series/notice":      {"bundle/compare", "bundle/sheet"},
	"series/site/shelf":  {"series/feed", "series/ledger", "series/notice", "bundle", "bundle/archive", "bundle/bom", "bundle/compare", "bundle/photo", "bundle/sheet", "templates"},
	"series/schedule":    {"series/calendar", "series/catalogue", "series/config", "series/ledger"},
	"series/stock":       {"series/disk", "bundle/hardware"},
	"series/outlook":     {"series/schedule", "series/stock", "series/ledger", "series/catalogue", "series/config", "series/calendar", "series/history", "bundle/facts", "bundle/bom", "bundle/trial"},
	"series/release":     {"series/schedule", "series/ledger", "series/target", "series/history", "series/disk", "series/calendar", "bundle", "bundle/archive"},
	"series/site":        {"templates"},
	"series/site/desk":   {"series/site", "series/outlook", "series/schedule", "templates", "bundle", "bundle/*"},
	"series/preview":     {"series/site"},

	"bundle":               {"bundle/*", "templates"},
	"bundle/unit":          {},
	"bundle/finding":       {},
	"bundle/design":        {},
	"bundle/source":        {},
	"bundle/manifest":      {"bundle/source"},
	"bundle/board":         {"bundle/source"},
	"bundle/hardware":      {},
	"bundle/motion":        {},
	"bundle/mesh":          {},
	"bundle/mesh/stl":      {"bundle/mesh"},
	"bundle/mesh/threemf":  {"bundle/mesh"},
	"bundle/mesh/same":     {"bundle/mesh"},
	"bundle/section":       {"bundle/mesh"},
	"bundle/estimate":      {"bundle/section", "bundle/motion", "bundle/mesh"},
	"bundle/toolpath":      {"bundle/motion"},
	"bundle/bed":           {},
	"bundle/trial":         {"bundle/estimate"},
	"bundle/facts":         {},
	"bundle/fit":           {"bundle/facts", "bundle/mesh", "bundle/section", "bundle/board", "bundle/hardware"},
	"bundle/photo":         {},
	"bundle/privacy":       {},
	"bundle/measure":       {"bundle/facts", "bundle/mesh", "bundle/mesh/*", "bundle/section", "bundle/estimate", "bundle/toolpath", "bundle/fit", "bundle/photo", "bundle/privacy", "bundle/trial", "bundle/measure/cache"},
	"bundle/measure/cache": {},
	"bundle/check":         {"bundle/facts", "bundle/fit", "bundle/hardware", "bundle/board"},
	"bundle/bom":           {"bundle/facts", "bundle/hardware", "bundle/bed"},
	"bundle/compare":       {"bundle/facts", "bundle/mesh/same"},
	"bundle/picture":       {"bundle/mesh"},
	"bundle/sheet":         {"bundle/bom", "bundle/facts", "bundle/hardware", "bundle/picture", "templates"},
	"bundle/archive":       {},
	"bundle/adopt":         {"bundle/measure", "bundle/facts", "bundle/fit", "bundle/mesh", "bundle/mesh/same", "bundle/mesh/threemf", "bundle/section", "bundle/hardware", "bundle/board", "bundle/manifest", "bundle/source"},
}

// free to every package of ours but those of mesh and archive, which know nothing of designs.
var free = []string{"bundle/unit", "bundle/finding", "bundle/design"}

const moduleName = "dropwright"

// repository returns the root of the checkout.
func repository(t *testing.T) string {
	t.Helper()
	dir, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "go.mod")); err != nil {
		t.Fatal(err)
	}
	return dir
}

type goFile struct {
	dir  string // slash-separated, from the root
	name string
	test bool
	file *ast.File
	fset *token.FileSet
}

func goFiles(t *testing.T) []goFile {
	t.Helper()
	root := repository(t)
	var out []goFile
	err := filepath.WalkDir(root, func(p string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if e.IsDir() && (strings.HasPrefix(e.Name(), ".") && p != root || e.Name() == "testdata") {
			return fs.SkipDir
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, p, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(root, filepath.Dir(p))
		out = append(out, goFile{filepath.ToSlash(rel), e.Name(), strings.HasSuffix(p, "_test.go"), f, fset})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(out) < 50 {
		t.Fatalf("only %d Go files found: the walk is broken", len(out))
	}
	return out
}

func matches(patterns []string, dir string) bool {
	for _, p := range patterns {
		if p == dir || strings.HasSuffix(p, "/*") && strings.HasPrefix(dir, strings.TrimSuffix(p, "*")) {
			return true
		}
	}
	return false
}

func rulesFor(dir string) ([]string, bool) {
	if r, ok := allowed[dir]; ok {
		return r, true
	}
	r, ok := allowed[path.Dir(dir)+"/*"]
	return r, ok
}

func importAllowed(from, to string) bool {
	r, ok := rulesFor(from)
	if !ok {
		return false
	}
	meshOrArchive := strings.HasPrefix(from, "bundle/mesh") || from == "bundle/archive" || from == "templates" || from == "examples" ||
		from == "series/target" || strings.HasPrefix(from, "series/target/") || from == "series/history" || from == "series/calendar"
	if !meshOrArchive && slices.Contains(free, to) {
		return true
	}
	return matches(r, to)
}

// TestImportList holds the list above: what a file that is not a test may import of ours.
func TestImportList(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range goFiles(t) {
		seen[f.dir] = true
		if f.test {
			continue
		}
		for _, imp := range f.file.Imports {
			p, _ := strconv.Unquote(imp.Path.Value)
			to, ours := strings.CutPrefix(p, moduleName+"/")
			if ours && !importAllowed(f.dir, to) {
				t.Errorf("%s/%s imports %s, which the list does not allow", f.dir, f.name, to)
			}
		}
	}
	for dir := range seen {
		if _, ok := rulesFor(dir); !ok {
			t.Errorf("the folder %s is not in the list", dir)
		}
	}
	// the judge must be able to say no
	for _, wrong := range [][2]string{{"bundle/check", "bundle/measure"}, {"bundle/mesh", "bundle/unit"}, {"bundle/bom", "series/config"}, {"series/calendar", "series/config"}, {"bundle/nowhere", "bundle/unit"}} {
		if importAllowed(wrong[0], wrong[1]) {
			t.Errorf("%s -> %s passes", wrong[0], wrong[1])
		}
	}
}

// forbidden says what a file under bundle uses that would make a bundle depend on when, where or what else.
func forbidden(f *ast.File) []string {
	var out []string
	for _, imp := range f.Imports {
		p, _ := strconv.Unquote(imp.Path.Value)
		// net/url only takes text apart; the rest of net reaches out.
		if p == "net" || strings.HasPrefix(p, "net/") && p != "net/url" || p == "os/exec" {
			out = append(out, "import "+p)
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "After", "AfterFunc", "Sleep", "Tick", "NewTimer", "NewTicker"}, sel.Sel.Name) {
			out = append(out, "time."+sel.Sel.Name)
		}
		return true
	})
	return out
}

// TestNoClockNoNetworkNoExec: what is made from a design is repeatable, so nothing under bundle may know the
// time, reach the network or start another program.
func TestNoClockNoNetworkNoExec(t *testing.T) {
	n := 0
	for _, f := range goFiles(t) {
		if f.test || f.dir != "bundle" && !strings.HasPrefix(f.dir, "bundle/") {
			continue
		}
		n++
		for _, what := range forbidden(f.file) {
			t.Errorf("%s/%s: %s", f.dir, f.name, what)
		}
	}
	if n < 40 {
		t.Errorf("only %d files judged", n)
	}
	planted, err := parser.ParseFile(token.NewFileSet(), "x.go", "package x\nimport (\"net/http\"; \"os/exec\"; \"time\")\nvar _ = http.Get\nvar _ = exec.Command\nvar now = time.Now()\n", 0)
	if err != nil {
		t.Fatal(err)
	}
	if got := forbidden(planted); len(got) != 3 {
		t.Errorf("the planted file gives %v", got)
	}
}

// TestRooms: no folder without a job in its name, no file that has two jobs, no other top level.
func TestRooms(t *testing.T) {
	top := []string{"cmd", "series", "bundle", "templates", "examples", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE"}
	entries, err := os.ReadDir(repository(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && !slices.Contains(top, e.Name()) && e.Name() != "dropwright" {
			t.Errorf("the top level holds %s", e.Name())
		}
	}
	for _, f := range goFiles(t) {
		for _, bad := range []string{"util", "utils", "common", "types", "helpers"} {
			if slices.Contains(strings.Split(f.dir, "/"), bad) || strings.TrimSuffix(f.name, ".go") == bad {
				t.Errorf("%s/%s has no job in its name", f.dir, f.name)
			}
		}
		if n := f.fset.File(f.file.Pos()).LineCount(); n > 700 {
			t.Errorf("%s/%s has %d lines: two jobs", f.dir, f.name, n)
		}
	}
}
