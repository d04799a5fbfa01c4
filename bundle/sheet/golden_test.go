package sheet

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/manifest"
)

// bell is a small design with a bit of everything, whose facts are written by hand.
func bell(t testing.TB, language string) Input {
	t.Helper()
	data, err := os.ReadFile("testdata/frost-bell.yaml")
	if err != nil {
		t.Fatal(err)
	}
	d, _, found := manifest.Decode("frost-bell", "design.yaml", data, manifest.Context{})
	if finding.Count(found, finding.Error) > 0 {
		t.Fatal(found)
	}
	in := hook()
	in.Design, in.Facts = d, &facts.Design{}
	for i, p := range []string{"bell", "clamp", "gauge"} {
		in.Facts.Parts = append(in.Facts.Parts, facts.Part{Part: p, Variant: design.Plain, Mesh: "meshes/" + p + ".stl",
			Estimate: &facts.Estimate{Grams: 10 + float64(i), GramsLow: 9 + float64(i), GramsHigh: 11 + float64(i), Basis: "model", Metres: 3 + float64(i), Seconds: 3600 + float64(i)*600}})
	}
	in.House.Filaments[0].Name.V = "moss"
	in.House.Currency = val(design.Currency("EUR"))
	in.House.Language = val(design.Language(language))
	in.Licence, in.Later, in.Audience = "LicenseRef-Early-Access", "CC-BY-SA-4.0", "early"
	in.Remarks = []string{"screw-long: the screw may stand out by 2 mm"}
	by := 0.4
	in.Since = "0.9.0"
	in.Reprint = []Reprint{{Part: "bell", Answer: "only-if", Change: "changed", Deviation: &by, Why: "the clapper scrapes"}, {Part: "clamp", Answer: "no", Change: "same", Why: "not changed"}}
	in.BOM = bom.Compute(d, in.Facts, in.House, []string{design.Plain}, 1, func(string) string { return "" })
	return in
}

// TestGoldenText compares the text of a small sheet with the file that a person read. UPDATE_GOLDEN=1 rewrites
// it; read the difference before you commit it.
func TestGoldenText(t *testing.T) {
	for _, language := range []string{"en", "de"} {
		var got bytes.Buffer
		if err := Compose(bell(t, language)).Text(&got); err != nil {
			t.Fatal(err)
		}
		file := "testdata/frost-bell." + language + ".txt"
		if os.Getenv("UPDATE_GOLDEN") != "" {
			if err := os.WriteFile(file, got.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got.Bytes(), want) {
			t.Errorf("%s differs %s", file, firstDifference(string(want), got.String()))
		}
	}
}

// firstDifference shows the first line in which two texts differ.
func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		var a, b string
		if i < len(w) {
			a = w[i]
		}
		if i < len(g) {
			b = g[i]
		}
		if a != b {
			return fmt.Sprintf("in line %d:\n- %s\n+ %s", i+1, a, b)
		}
	}
	return ""
}
