package photo

import (
	"fmt"
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

// banned are the names that hand bytes to whatever decoder is registered, by import path, and
// bannedImports the packages whose import registers one that is not wanted.
var (
	banned = map[string][]string{
		"image":                             {"Decode", "DecodeConfig", "RegisterFormat"},
		"github.com/disintegration/imaging": {"Decode", "Open", "AutoOrientation"},
	}
	bannedImports = []string{"image/gif", "golang.org/x/image/tiff", "golang.org/x/image/bmp", "golang.org/x/image/webp"}
)

// findBanned lists the uses of banned names in a Go source.
func findBanned(name string, src []byte) ([]string, error) {
	fset := token.NewFileSet()
	f, err := parser.ParseFile(fset, name, src, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	var found []string
	report := func(at token.Pos, what string) {
		found = append(found, fmt.Sprintf("%s: %s", fset.Position(at), what))
	}
	local := map[string]string{} // name in this file -> import path
	for _, im := range f.Imports {
		p, err := strconv.Unquote(im.Path.Value)
		if err != nil {
			return nil, err
		}
		if slices.Contains(bannedImports, p) {
			report(im.Pos(), "import of "+p)
		}
		if banned[p] == nil {
			continue
		}
		switch {
		case im.Name == nil:
			local[path.Base(p)] = p
		case im.Name.Name == ".":
			report(im.Pos(), "dot import of "+p)
		default:
			local[im.Name.Name] = p
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := sel.X.(*ast.Ident); ok && slices.Contains(banned[local[x.Name]], sel.Sel.Name) {
				report(sel.Pos(), local[x.Name]+"."+sel.Sel.Name)
			}
		}
		return true
	})
	return found, nil
}

// TestNobodyDecodesBlindly holds every Go file of the repository to the package comment.
func TestNobodyDecodesBlindly(t *testing.T) {
	root, err := os.Getwd()
	for err == nil {
		if _, serr := os.Stat(filepath.Join(root, "go.mod")); serr == nil {
			break
		}
		if filepath.Dir(root) == root {
			t.Fatal("no go.mod above this folder")
		}
		root = filepath.Dir(root)
	}
	files := 0
	err = fs.WalkDir(os.DirFS(root), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && name != "." && strings.HasPrefix(d.Name(), ".") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") {
			return nil
		}
		src, err := os.ReadFile(filepath.Join(root, name))
		if err != nil {
			return err
		}
		found, err := findBanned(name, src)
		if err != nil {
			t.Logf("not read, and it will not compile either: %v", err)
			return nil
		}
		files++
		for _, f := range found {
			t.Error(f)
		}
		return nil
	})
	if err != nil || files < 5 {
		t.Errorf("%d files read, %v", files, err)
	}
}

// TestFindBanned plants the banned uses, in every spelling, and allowed ones.
func TestFindBanned(t *testing.T) {
	for src, want := range map[string]int{
		`import "image"; var f = image.Decode`:                                        1,
		`import "image"; func f() { image.Decode(nil) }`:                              1,
		`import img "image"; func f() { img.DecodeConfig(nil) }`:                      1,
		`import "github.com/disintegration/imaging"; func f() { imaging.Open("x") }`:  1,
		`import i "github.com/disintegration/imaging"; func f() { i.Decode(nil) }`:    1,
		`import . "image"; func f() { Decode(nil) }`:                                  1,
		`import _ "golang.org/x/image/tiff"`:                                          1,
		`import "image/jpeg"; func f() { jpeg.Decode(nil) }`:                          0,
		`import "github.com/disintegration/imaging"; func f() { imaging.FlipH(nil) }`: 0,
		`// image.Decode( in a comment`:                                               0,
		`var s = "image.Decode("`:                                                     0,
	} {
		got, err := findBanned("planted.go", []byte("package p\n"+src))
		if err != nil || len(got) != want {
			t.Errorf("%s: %v, %v", src, got, err)
		}
	}
}
