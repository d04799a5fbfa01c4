package bundle

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"image"
	"image/draw"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"dropwright/bundle/compare"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
)

// washer is a plate of 20 mm with a bore, its hole as it would be measured.
func washer(t *testing.T, name string, bore float64) *State {
	s := stateOf(name, fileOf(t, mesh.Lathe([][2]float64{{bore / 2, 0}, {10, 0}, {10, 5}, {bore / 2, 5}, {bore / 2, 0}}, 96)))
	s.Variants[0].Parts[0].Holes = []facts.Hole{{Axis: "z", Kind: "round", Diameter: bore, Centre: [3]float64{0, 0, 2.5}}}
	return s
}

func drawnOf(t *testing.T, a, b *State) (compare.Diff, []byte, string) {
	t.Helper()
	d, err := Changes(a, b)
	if err != nil {
		t.Fatal(err)
	}
	svg, alt, err := Differs(a, b, d.Parts[0])
	if err != nil {
		t.Fatal(err)
	}
	return d, svg, alt
}

var embedded = regexp.MustCompile(`data:image/png;base64,([A-Za-z0-9+/=]+)`)

// marked is the number of pixels that are marked in each picture of an SVG.
func marked(t *testing.T, svg []byte) (out []int) {
	t.Helper()
	for _, m := range embedded.FindAllSubmatch(svg, -1) {
		data, err := base64.StdEncoding.DecodeString(string(m[1]))
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		flat := image.NewNRGBA(img.Bounds())
		draw.Draw(flat, flat.Rect, img, image.Point{}, draw.Src)
		out = append(out, brown(flat))
	}
	return out
}

// TestDiffers: the picture is well-formed XML, gives the deviation in mm, marks what is gone in the older state and what is
// new in the newer one, and nothing else.
func TestDiffers(t *testing.T) {
	_, svg, alt := drawnOf(t, washer(t, "1.0.0", 6), washer(t, "1.0.1", 7))
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("no XML: %v", err)
		}
	}
	if !strings.Contains(alt, "0.50 mm") || !bytes.Contains(svg, []byte(">0.50 mm<")) || !bytes.Contains(svg, []byte("before: 1.0.0")) || !bytes.Contains(svg, []byte("after: 1.0.1")) {
		t.Errorf("the figure or the names are missing: %q", alt)
	}
	if n := bytes.Count(svg, []byte("Z")); n < 4 {
		t.Errorf("the cut has %d outlines, want 2 of each state", n)
	}
	if m := marked(t, svg); len(m) != 2 || m[0] < 500 || m[1] < 500 {
		t.Errorf("a wider bore: %d pixels are marked", m)
	}
	_, again, _ := drawnOf(t, washer(t, "1.0.0", 6), washer(t, "1.0.1", 7))
	if !bytes.Equal(svg, again) {
		t.Error("drawn twice, other bytes")
	}
	// A post added: nothing is gone, something is new; its underside alone differs by nothing.
	plate := mesh.Box(30, 30, 3)
	_, svg, _ = drawnOf(t, stateOf("1", fileOf(t, plate)), stateOf("2", fileOf(t, mesh.Join(plate, mesh.Transform(mesh.Box(4, 4, 7), mesh.Shift(10, 12, 3))))))
	if m := marked(t, svg); len(m) != 2 || m[0] != 0 || m[1] < 500 {
		t.Errorf("a post added: %d pixels are marked", m)
	}
	wedge := &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {30, 0, 0}, {0, 20, 0}, {0, 0, 10}}, Triangles: [][3]uint32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}}
	_, svg, alt = drawnOf(t, stateOf("1", fileOf(t, wedge)), stateOf("2", fileOf(t, mesh.Mirror(wedge))))
	if m := marked(t, svg); len(m) != 2 || m[0] != 0 || m[1] != 0 || !strings.Contains(alt, "mirror image") {
		t.Errorf("mirrored: %d pixels are marked, %q", m, alt)
	}
	if _, svg, _ := drawnOf(t, stateOf("1", fileOf(t, wedge)), stateOf("2", fileOf(t, mesh.Transform(wedge, mesh.Shift(1, 2, 3))))); svg != nil {
		t.Error("a part that only moved has a picture")
	}
}

// TestComparePage: html-validate (npm) finds nothing wrong with the page, its rules for people with screen readers
// included, and rejects one without alternative text. Names that hold markup stay text.
func TestComparePage(t *testing.T) {
	d, svg, alt := drawnOf(t, washer(t, "1.0.0", 6), washer(t, "1.0.1", 7))
	d.Parts[0].Part = "<b>p</b>"
	d.Fasteners = []compare.LineChange{{Name: "lid-screw", Change: compare.Changed, From: "4 x M3x8", To: "4 x M3x10"}}
	var page bytes.Buffer
	if err := ComparePage(&page, d, []Drawn{{svg, alt}}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1 hole goes from 6 to 7 mm", "4 x M3x10", "data:image/svg&#43;xml;base64,", "&lt;b&gt;p&lt;/b&gt;"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	const validate = "../.ci/npm/node_modules/.bin/html-validate"
	if _, err := os.Stat(validate); err != nil {
		absentInside(t, "html-validate (npm ci in .ci/npm)", err)
	}
	verdict := func(html string) (string, error) {
		file := filepath.Join(t.TempDir(), "page.html")
		if err := os.WriteFile(file, []byte(html), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(validate, "--preset", "standard,a11y,document", file).CombinedOutput()
		return string(out), err
	}
	if out, err := verdict(page.String()); err != nil {
		t.Errorf("html-validate: %v\n%.3000s", err, out)
	}
	if _, err := verdict(regexp.MustCompile(` alt="[^"]*"`).ReplaceAllString(page.String(), "")); err == nil {
		t.Error("html-validate accepts a picture without alternative text")
	}
}

// absentInside skips a test whose outside program is not there, and fails where the whole suite must run.
func absentInside(t *testing.T, what string, err error) {
	t.Helper()
	if os.Getenv("DROPWRIGHT_CI") != "" {
		t.Fatalf("%s is needed here: %v", what, err)
	}
	t.Skipf("SKIPPED LOUDLY: %s: %v", what, err)
}
