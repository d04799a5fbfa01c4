package sheet

import (
	"bytes"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/hardware"
)

// tool finds an outside program. Without it the test is skipped, or fails where DROPWRIGHT_CI is set.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("%s is needed here and not installed", name)
		}
		t.Skipf("NOT CHECKED: %s is not installed", name)
	}
	return path
}

func pdfFile(t *testing.T, s *Sheet, image Images, paper string) string {
	t.Helper()
	var b bytes.Buffer
	if err := s.PDF(&b, image, paper); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func output(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", filepath.Base(name), args, err, out)
	}
	return string(out)
}

// TestPDFByOutsideTools holds every demo sheet against qpdf (syntax), pdffonts (embedding) and pdftotext (what a
// reader gets back).
func TestPDFByOutsideTools(t *testing.T) {
	qpdf, pdffonts, pdftotext := tool(t, "qpdf"), tool(t, "pdffonts"), tool(t, "pdftotext")
	everyVariant(t, func(t *testing.T, name, variant string) {
		for i, language := range []string{"en", "de"} {
			in, images := demo(t, name, variant, language)
			s := Compose(in)
			if m := s.MissingGlyphs(); len(m) > 0 {
				t.Errorf("missing glyphs: %s", codePoints(m))
			}
			file := pdfFile(t, s, images, []string{"a4", "letter"}[i])
			output(t, qpdf, "--check", file)
			for _, line := range strings.Split(strings.TrimSpace(output(t, pdffonts, file)), "\n")[2:] {
				f := strings.Fields(line)
				// name, type (two words), encoding, emb, sub, uni, object (two numbers)
				if len(f) != 9 || f[4] != "yes" || f[6] != "yes" {
					t.Errorf("font not embedded or without Unicode: %s", line)
				}
			}
			// pdftotext breaks lines and takes hard hyphens as they are; blanks are all that may differ.
			bare := func(s string) string { return strings.Join(strings.Fields(s), "") }
			text := bare(output(t, pdftotext, "-raw", file, "-"))
			for _, want := range mustStand(s) {
				if !strings.Contains(text, bare(want)) {
					t.Errorf("%s: the PDF lacks %q", language, want)
				}
			}
			if strings.Contains(text, "\ufffd") {
				t.Error("a letter cannot be read back")
			}
		}
	})
}

// TestOutsideToolsReject feeds qpdf a PDF that was cut off.
func TestOutsideToolsReject(t *testing.T) {
	qpdf := tool(t, "qpdf")
	file := pdfFile(t, Compose(hook()), nil, "a4")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, data[:len(data)/2], 0o644); err != nil {
		t.Fatal(err)
	}
	if exec.Command(qpdf, "--check", file).Run() == nil {
		t.Error("qpdf takes half a PDF")
	}
}

var (
	lineOps  = regexp.MustCompile(`(-?[\d.]+) (-?[\d.]+) m\s+(-?[\d.]+) (-?[\d.]+) l\s+S`)
	mediaBox = regexp.MustCompile(`/MediaBox \[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]`)
)

// TestPDFIsTrueToSize measures the bar and an M3 x 16 in the PDF's own units, 1/72 inch: within 0.1 mm.
func TestPDFIsTrueToSize(t *testing.T) {
	qpdf := tool(t, "qpdf")
	in := hook()
	in.BOM.Variants[0].Fasteners = []bom.Fastener{{Designation: "ISO 4762 - M3 x 16", Kind: "screw", Count: 4}}
	for paper, size := range papers {
		file := pdfFile(t, Compose(in), nil, paper)
		content := output(t, qpdf, "--qdf", "--object-streams=disable", file, "-")
		box := mediaBox.FindStringSubmatch(content)
		if box == nil {
			t.Fatal("no MediaBox")
		}
		w, _ := strconv.ParseFloat(box[1], 64)
		h, _ := strconv.ParseFloat(box[2], 64)
		if math.Abs(w*pt-size.Wd) > 0.1 || math.Abs(h*pt-size.Ht) > 0.1 {
			t.Errorf("%s: the page is %.2f x %.2f mm", paper, w*pt, h*pt)
		}
		var lengths []float64
		for _, m := range lineOps.FindAllStringSubmatch(content, -1) {
			x0, _ := strconv.ParseFloat(m[1], 64)
			x1, _ := strconv.ParseFloat(m[3], 64)
			if m[2] == m[4] {
				lengths = append(lengths, math.Abs(x1-x0)*pt)
			}
		}
		for _, want := range []float64{50, 16} {
			if !slices.ContainsFunc(lengths, func(x float64) bool { return math.Abs(x-want) < 0.1 }) {
				t.Errorf("%s: no level line of %v mm among %.2f", paper, want, lengths)
			}
		}
	}
}

// TestSeasonIsTrueToSize measures the bar and every screw of every demo design in the PDF's own units: a level line as
// long as the designation says, within 0.1 mm.
func TestSeasonIsTrueToSize(t *testing.T) {
	qpdf := tool(t, "qpdf")
	seen := 0
	everyVariant(t, func(t *testing.T, name, variant string) {
		in, images := demo(t, name, variant, "en")
		content := output(t, qpdf, "--qdf", "--object-streams=disable", pdfFile(t, Compose(in), images, "a4"), "-")
		var lengths []float64
		for _, m := range lineOps.FindAllStringSubmatch(content, -1) {
			x0, _ := strconv.ParseFloat(m[1], 64)
			x1, _ := strconv.ParseFloat(m[3], 64)
			if m[2] == m[4] {
				lengths = append(lengths, math.Abs(x1-x0)*pt)
			}
		}
		want := []float64{}
		for _, f := range in.BOM.Variants[0].Fasteners {
			if d, err := hardware.ParseDesignation(f.Designation); err == nil && d.Kind == hardware.KindScrew {
				want = append(want, d.Length)
			}
		}
		if len(want) > 0 {
			want = append(want, 50)
		}
		for _, w := range want {
			seen++
			if !slices.ContainsFunc(lengths, func(x float64) bool { return math.Abs(x-w) < 0.1 }) {
				t.Errorf("no level line of %v mm among %.2f", w, lengths)
			}
		}
	})
	if seen < 15 {
		t.Errorf("only %d lengths were measured", seen)
	}
}

func TestPDFSameBytes(t *testing.T) {
	in, images := demo(t, "seed-dryer", design.Plain, "en")
	var first bytes.Buffer
	for i := range 5 {
		var b bytes.Buffer
		if err := Compose(in).PDF(&b, images, "a4"); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = b
		} else if !bytes.Equal(first.Bytes(), b.Bytes()) {
			t.Fatal("two prints of one sheet differ")
		}
	}
	var b bytes.Buffer
	if err := Compose(in).PDF(&b, images, "a5"); !errors.Is(err, ErrPaper) || b.Len() > 0 {
		t.Errorf("unknown paper: %v", err)
	}
}

// TestMissingGlyphsAreReported holds that a letter the font lacks is listed and replaced, and one past the basic
// plane, on which the PDF writer would give up, too.
func TestMissingGlyphsAreReported(t *testing.T) {
	in := hook()
	in.Design.Title = val(design.Text("Haken 鉤 \U0001F331 żółć Ω ⌀"))
	s := Compose(in)
	if got := codePoints(s.MissingGlyphs()); got != "U+9264, U+1F331" {
		t.Errorf("missing: %s", got)
	}
	if got := fit("a鉤\ufe0fb\U0001F331"); got != "a?b?" {
		t.Errorf("got %q", got)
	}
	file := pdfFile(t, s, nil, "a4")
	text := output(t, tool(t, "pdftotext"), "-raw", file, "-")
	for _, want := range []string{"żółć Ω ⌀", "U+1F331"} {
		if !strings.Contains(text, want) {
			t.Errorf("the PDF lacks %q", want)
		}
	}
}

// TestPagination holds the rules of breaking on strips of one height.
func TestPagination(t *testing.T) {
	p := &pdfPrinter{height: 100}
	strips := func(n int, keep func(i int) bool) []strip {
		var out []strip
		for i := range n {
			out = append(out, strip{height: 30, keepNext: keep(i)})
		}
		return out
	}
	count := func(pages [][]placed) []int {
		var out []int
		for _, x := range pages {
			out = append(out, len(x))
		}
		return out
	}
	for _, c := range []struct {
		name string
		in   []strip
		want []int
	}{
		{"fills pages", strips(7, func(int) bool { return false }), []int{3, 3, 1}},
		{"moves a pair whole", strips(4, func(i int) bool { return i == 2 }), []int{2, 2}},
		{"breaks what no page holds", strips(5, func(i int) bool { return i < 4 }), []int{3, 2}},
		{"a strip taller than the page stands alone", []strip{{height: 30}, {height: 150}, {height: 30}}, []int{1, 1, 1}},
		{"gap at the head is dropped", []strip{{height: 90}, {height: 100, gap: 20}}, []int{1, 1}},
		{"nothing", nil, nil},
	} {
		if got := count(p.paginate(c.in)); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	head := strip{height: 10}
	pages := p.paginate([]strip{{height: 90}, {height: 30, again: &head}})
	if len(pages) != 2 || len(pages[1]) != 2 || pages[1][1].y != pdfTop+10 {
		t.Errorf("the head of a table is not repeated: %v", count(pages))
	}
}
