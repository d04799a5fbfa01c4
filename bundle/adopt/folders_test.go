package adopt_test

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"dropwright/examples"
)

// recipe is folder.yaml: what comes beside the texts. See testdata/README.md.
type recipe struct {
	Design string      `yaml:"design"` // of the demo season; what Take names lies there
	Take   []takenItem `yaml:"take"`
	Make   []madeItem  `yaml:"make"`
}

type takenItem struct {
	File     string      `yaml:"file"`
	From     string      `yaml:"from"`
	Mirrored bool        `yaml:"mirrored"`
	Scale    [3]float64  `yaml:"scale"` // none: as it is
	At       [3]float64  `yaml:"at"`
	Join     []takenItem `yaml:"join"` // several meshes in one file
	As       string      `yaml:"as"`   // binary STL when empty; ascii, 3mf
	Object   string      `yaml:"object"`
	Material string      `yaml:"material"`
	Colour   string      `yaml:"colour"`
}

type madeItem struct {
	File    string `yaml:"file"`
	Slab    *slab  `yaml:"slab"`
	Inches  bool   `yaml:"inches"` // written 25.4 times too small
	Turned  bool   `yaml:"turned"` // a quarter turn, moved, facets in another order
	Picture [2]int `yaml:"picture"`
	Bytes   int    `yaml:"bytes"` // litter: as many bytes that mean nothing
}

// truth is expected.yaml. See testdata/README.md.
type truth struct {
	Parts     []truePart     `yaml:"parts"`
	NotParts  []notPart      `yaml:"not_parts"`
	Fasteners []trueFastener `yaml:"fasteners"`
	Boards    []trueBoard    `yaml:"boards"`
	Licence   string         `yaml:"licence"`
	Print     map[string]any `yaml:"print"`
	Steps     int            `yaml:"steps"`
	Findings  []trueWords    `yaml:"findings"` // must come
	Also      []trueWords    `yaml:"also"`     // may come, and is true
	Holes     []trueHoles    `yaml:"holes"`
}

type trueWords struct {
	Words []string `yaml:"words"`
}

type truePart struct {
	Name       string            `yaml:"name"`
	File       string            `yaml:"file"`
	Files      map[string]string `yaml:"files"` // by variant, instead of File
	MirrorFile string            `yaml:"mirror_file"`
	Copies     int               `yaml:"copies"`
	Mirrored   int               `yaml:"mirrored"`
	Colour     string            `yaml:"colour"`
}

type notPart struct {
	File string `yaml:"file"`
	Why  string `yaml:"why"` // reference, older, duplicate
}

type trueFastener struct {
	Kind        string  `yaml:"kind"`        // screw, insert, nut
	Designation string  `yaml:"designation"` // M3x8; M3 for inserts and nuts
	Head        string  `yaml:"head"`
	Outer       float64 `yaml:"outer"` // inserts, mm
	Length      float64 `yaml:"length"`
	Standard    string  `yaml:"standard"`
	Count       int     `yaml:"count"`   // in one build of a variant
	Variant     string  `yaml:"variant"` // empty: every variant
}

type trueBoard struct {
	Variant string `yaml:"variant"`
	Profile string `yaml:"profile"`
	SitsIn  string `yaml:"sits_in"`
}

type trueHoles struct {
	File     string  `yaml:"file"`
	Diameter float64 `yaml:"diameter"` // mm, as drawn
	Depth    float64 `yaml:"depth"`
	Count    int     `yaml:"count"`
}

// testFolder finds a folder by its name under testdata.
func testFolder(t testing.TB, name string) string {
	t.Helper()
	for _, kind := range []string{"folders", "contradictions"} {
		dir := filepath.Join("testdata", kind, name)
		if _, err := os.Stat(filepath.Join(dir, "folder.yaml")); err == nil {
			return dir
		}
	}
	t.Fatalf("no folder %s under testdata", name)
	return ""
}

// folderNames lists the folders of one kind, folders or contradictions, and fails when there are none.
func folderNames(t testing.TB, kind string) []string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join("testdata", kind, "*", "folder.yaml"))
	if err != nil || len(found) == 0 {
		t.Fatalf("no folders under testdata/%s: %v", kind, err)
	}
	for i, f := range found {
		found[i] = filepath.Base(filepath.Dir(f))
	}
	return found
}

// readTruth reads the folder's expected.yaml; an unknown key fails.
func readTruth(t testing.TB, name string) truth {
	t.Helper()
	var tr truth
	strictYAML(t, filepath.Join(testFolder(t, name), "expected.yaml"), &tr)
	return tr
}

// layFolder lays a test folder out as its maker would have left it, in a temporary folder whose path it returns.
func layFolder(t testing.TB, name string) string {
	t.Helper()
	from, to := testFolder(t, name), filepath.Join(t.TempDir(), name)
	var r recipe
	strictYAML(t, filepath.Join(from, "folder.yaml"), &r)
	put := func(file string, data []byte) {
		t.Helper()
		p := filepath.Join(to, filepath.FromSlash(file))
		err := os.MkdirAll(filepath.Dir(p), 0o777)
		if _, there := os.Stat(p); err == nil && there == nil {
			err = errors.New("laid out twice: " + file)
		}
		if err == nil {
			err = os.WriteFile(p, data, 0o666)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	texts := os.DirFS(filepath.Join(from, "files"))
	err := fs.WalkDir(texts, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := fs.ReadFile(texts, p)
		if err == nil {
			put(p, data)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range r.Take {
		put(k.File, taken(t, r.Design, k))
	}
	for _, m := range r.Make {
		put(m.File, made(t, m))
	}
	return to
}

func taken(t testing.TB, design string, k takenItem) []byte {
	t.Helper()
	read := func(name string) []byte {
		data, err := fs.ReadFile(examples.Season, path.Join("designs", design, name))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	plain := !k.Mirrored && k.Scale == [3]float64{} && k.As == "" && len(k.Join) == 0
	if plain {
		return read(k.From)
	}
	var s solid
	for _, j := range append([]takenItem{k}, k.Join...) {
		if j.From == "" {
			continue
		}
		one := readSTL(t, read(j.From))
		if j.Mirrored {
			one = one.mirrored()
		}
		if j.Scale != [3]float64{} {
			one = one.each(func(p point) point { return point{p[0] * j.Scale[0], p[1] * j.Scale[1], p[2] * j.Scale[2]} })
		}
		s = append(s, one.moved(j.At)...)
	}
	switch k.As {
	case "":
		return s.stl()
	case "ascii":
		return s.ascii()
	case "3mf":
		return s.threemf(t, k.Object, k.Material, k.Colour)
	}
	t.Fatalf("%s: no such format: %s", k.File, k.As)
	return nil
}

func made(t testing.TB, m madeItem) []byte {
	t.Helper()
	switch {
	case m.Slab != nil:
		s := m.Slab.solid()
		if m.Inches {
			s = s.each(func(p point) point { return point{p[0] / 25.4, p[1] / 25.4, p[2] / 25.4} })
		}
		if m.Turned {
			s = s.each(func(p point) point { return point{50 - p[1], 20 + p[0], p[2]} })
			for i, j := 0, len(s)-1; i < j; i, j = i+1, j-1 {
				s[i], s[j] = s[j], s[i]
			}
		}
		return s.stl()
	case m.Picture[0] > 0:
		return picture(t, m.Picture[0], m.Picture[1])
	case m.Bytes > 0:
		return bytes.Repeat([]byte{0, 5, 22, 7}, m.Bytes/4+1)[:m.Bytes]
	}
	t.Fatalf("%s: the recipe does not say what to make", m.File)
	return nil
}

// picture is a JPEG with a little shading, as large as wanted in pixels.
func picture(t testing.TB, wide, high int) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, wide, high))
	for y := range high {
		for x := range wide {
			m.SetGray(x, y, color.Gray{Y: uint8(90 + (x+y)*80/(wide+high))})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func strictYAML(t testing.TB, file string, into any) {
	t.Helper()
	data, err := os.ReadFile(file)
	if err == nil {
		err = yaml.UnmarshalWithOptions(data, into, yaml.Strict())
	}
	if err != nil {
		t.Fatalf("%s: %v", file, strings.TrimSpace(err.Error()))
	}
}
