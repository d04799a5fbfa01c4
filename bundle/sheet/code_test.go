package sheet

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
)

// paged is a demo design with a page of its own.
func paged(t *testing.T, address string) (Input, Images) {
	t.Helper()
	in, images := demo(t, "rain-tipper", design.Plain, "en")
	d := *in.Design
	d.Page = val(design.URL(address))
	in.Design = &d
	return in, images
}

// scanned is what an outside reader of square codes (Debian's zbar-tools) finds in a picture.
func scanned(t *testing.T, picture string) string {
	t.Helper()
	out, _ := exec.Command(tool(t, "zbarimg"), "--raw", "--quiet", picture).Output() // status 4: no code found
	return strings.TrimSpace(string(out))
}

// TestSquareCode: an outside reader reads the page's address from the PDF, printed at 150 dpi, and from the page as
// a browser shows it, light and dark; it reads nothing from a code of which every third row is turned over.
func TestSquareCode(t *testing.T) {
	pdftoppm, chromium := tool(t, "pdftoppm"), tool(t, "chromium")
	tool(t, "zbarimg")
	const address = "https://hollow-lane.example/allotment-instruments/rain-tipper"
	in, images := paged(t, address)
	s := Compose(in)
	dir := t.TempDir()
	onPaper := func(s *Sheet, name string) string {
		output(t, pdftoppm, "-r", "150", "-f", "1", "-l", "1", "-singlefile", "-png", pdfFile(t, s, images, "a4"), filepath.Join(dir, name))
		return filepath.Join(dir, name+".png")
	}
	if got := scanned(t, onPaper(s, "paper")); got != address {
		t.Errorf("the PDF's code reads %q, want %q", got, address)
	}
	for _, mode := range []string{"light", "dark"} {
		file, shot := filepath.Join(dir, mode+".html"), filepath.Join(dir, mode+".png")
		page := string(printed(t, s, images))
		if mode == "dark" {
			page = strings.ReplaceAll(page, "@media screen and (prefers-color-scheme: dark)", "@media screen")
		}
		if err := os.WriteFile(file, []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
		output(t, chromium, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--hide-scrollbars", "--force-device-scale-factor=2",
			"--user-data-dir="+filepath.Join(dir, "profile"), "--window-size=1000,700", "--screenshot="+shot, "file://"+file)
		if got := scanned(t, shot); got != address {
			t.Errorf("the code of the %s page reads %q", mode, got)
		}
	}
	bad := *s
	bad.Code = slices.Clone(s.Code)
	for y := 0; y < len(bad.Code); y += 3 {
		bad.Code[y] = strings.Map(func(r rune) rune { return map[rune]rune{'#': ' ', ' ': '#'}[r] }, bad.Code[y])
	}
	if got := scanned(t, onPaper(&bad, "bad")); got != "" {
		t.Errorf("a spoilt code reads %q", got)
	}
}

func TestSquareCodeOnlyWithAPage(t *testing.T) {
	in, _ := demo(t, "rain-tipper", design.Plain, "en")
	if s := Compose(in); len(s.Code) > 0 {
		t.Error("a code of nothing")
	}
	if squareCode("https://x.example/"+strings.Repeat("a", maxCode)) != nil {
		t.Error("a code too dense to be read is made")
	}
}

// TestVariantsBeside: the sheet of a variant shows what differs from the other, its own figures in bold print, and
// what does not differ stays away.
func TestVariantsBeside(t *testing.T) {
	for _, language := range []string{"en", "de"} {
		in, _ := demo(t, "vent-minder", "stack", language)
		var section *Section
		for _, x := range Compose(in).Sections {
			if x.ID == "variants" {
				section = &x
			}
		}
		if section == nil {
			t.Fatal("no such section")
		}
		table := section.Blocks[1].Table
		if got := table.Columns[1].Title; !strings.HasPrefix(got, "PC/104 stack (") || table.Columns[2].Title != "96Boards CE" {
			t.Errorf("the columns are %q, %q", got, table.Columns[2].Title)
		}
		rows := map[string][2]string{}
		for _, r := range table.Rows {
			rows[r.Cells[0].Spans[0].Text] = [2]string{r.Cells[1].Spans[0].Text, r.Cells[2].Spans[0].Text}
			if !r.Cells[1].Spans[0].Strong || r.Cells[2].Spans[0].Strong {
				t.Errorf("%v: this variant must stand out", r.Cells)
			}
		}
		for name, want := range map[string][2]string{"ISO 7045 - M3 x 10": {"4", unknown}, "ISO 7045 - M2.5 x 8": {unknown, "4"}, "case": {"case-stack.stl", "case-ce.stl"}, "servo pulse module, one output, USB": {"1", unknown}} {
			if rows[name] != want {
				t.Errorf("%s: %q, want %q", name, rows[name], want)
			}
		}
		if _, same := rows["ISO 4762 - M3 x 8"]; same {
			t.Error("a screw that both take is said to differ")
		}
	}
	in, _ := demo(t, "rain-tipper", design.Plain, "en")
	for _, x := range Compose(in).Sections {
		if x.ID == "variants" {
			t.Error("a design without variants compares them")
		}
	}
}

// TestManyVariants: more than a page has room for are named, not tabled.
func TestManyVariants(t *testing.T) {
	in, _ := demo(t, "vent-minder", "ce", "en")
	bill := bom.BOM{}
	for _, v := range []string{"ce", "b", "c", "d", "e", "f"} {
		bill.Variants = append(bill.Variants, bom.Variant{Variant: v, Parts: []bom.Part{{Name: "case", Copies: 1, Mesh: v + ".stl"}}})
	}
	in.Beside = bill.Beside()
	for _, x := range Compose(in).Sections {
		if x.ID == "variants" && len(x.Blocks) != 2 || x.ID == "variants" && x.Blocks[1].Kind != Para {
			t.Errorf("%+v", x.Blocks)
		}
	}
}

// TestShotsKnowDrawings: a step with a drawing is not missing one, unless a photo shows where a thing goes that the
// drawing cannot place.
func TestShotsKnowDrawings(t *testing.T) {
	in, _ := demo(t, "mist-valve", "stack", "en")
	text := func(s *Sheet) string {
		var b strings.Builder
		if err := s.Text(&b); err != nil {
			t.Fatal(err)
		}
		return strings.Join(strings.Fields(b.String()), " ")
	}
	bare := text(Shots(in))
	in.StepImage = func(step int) *Picture { return &Picture{File: "x.png"} }
	drawn := text(Shots(in))
	for _, c := range []struct {
		want      string
		in, notIn string
	}{
		{"[ ] Step 3: Set the inserts in the base", bare, drawn},
		{"Drawn, and the drawing says it all: step 3.", drawn, bare},
		{"Step 5: Wire the boards. It is drawn, but the drawing does not show where this goes: valve, supply and loom.", drawn, bare},
	} {
		if !strings.Contains(c.in, c.want) || strings.Contains(c.notIn, c.want) {
			t.Errorf("%q\nwith drawings: %s\nwithout: %s", c.want, drawn, bare)
		}
	}
}
