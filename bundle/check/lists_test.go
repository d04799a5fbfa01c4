package check

import (
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

func value[T any](v T) design.Val[T] { return design.Val[T]{V: v, At: at} }

// shipped is a design with six screws of one size in two joints, a part of two copies, three servos, and one text
// beside it.
func shipped(file, body string) *Input {
	d := &design.Design{File: at.File}
	d.Parts = []design.Part{{Name: value(design.Name("case")), Title: value(design.Text("Main Case")), Copies: forAll(design.Int(2), 1)}}
	d.Fasteners = []design.Fastener{
		{Name: value(design.Name("lid-screw")), Screw: forAll(design.Text("M3x8"), 1), Count: forAll(design.Int(4), 1)},
		{Name: value(design.Name("foot-screw")), Screw: forAll(design.Text("M3x8"), 1), Count: forAll(design.Int(2), 1)},
	}
	d.Bought = []design.Bought{{Name: value(design.Name("servo")), What: value(design.Text("servo")), Count: forAll(design.Quantity(3), 1)}}
	d.Extras = []design.Extra{{File: value(design.Path(file))}}
	return &Input{Design: d, Facts: &facts.Design{Texts: []facts.Text{{File: file, Body: body}}}}
}

func TestLists(t *testing.T) {
	for _, x := range []struct {
		file, body, want string
	}{
		{"bom.csv", "part,qty\r\nM3x8,6\r\n", ""},
		{"bom.csv", "part,qty\r\nM3x8,7\r\n", "says 7 of M3x8, the manifest 6"},
		{"bom.csv", "part;qty;price\nM3 x 8 screw;4;1,20\nM3×8 for the feet;2;0,80\n", ""},                          // two rows of one size add up
		{"bom.csv", "part;qty\n\"M3x8; socket\";4\n", "says 4 of M3x8, the manifest 6"},                             // quoted, with the separator inside
		{"bom.tsv", "what\thow many\nservo\t3 pcs\nwire\t2\n", ""},                                                  // what the manifest does not know is not judged
		{"bom.tsv", "what\thow many\nServo\t4\n", "says 4 of servo, the manifest 3"},                                //
		{"bom.csv", "\ufeffName,Anzahl\nMain Case,1\n", "says 1 of main-case, the manifest 2"},                      // by title, with a byte order mark
		{"bom.csv", "file,copies\nmeshes/case.stl,2x\n", ""},                                                        // by file
		{"bom.csv", "part,price\nM3x8,7\n", ""},                                                                     // no column of counts
		{"bom.csv", "part,qty\nM3x8,some\n", ""},                                                                    // no count
		{"bom.csv", "part,qty\nM3x8 or M3x10,9\n", ""},                                                              // two sizes: not told for sure
		{"readme.md", "# Parts\n\n| Item | Qty |\n|---|--:|\n| **M3x8** | 5 |\n", "says 5 of M3x8, the manifest 6"}, //
		{"readme.md", "```\n| Item | Qty |\n|---|---|\n| M3x8 | 5 |\n```\n", ""},                                    // an example in a code block
		{"readme.md", "| Item | Qty |\n| M3x8 | 5 |\n", ""},                                                         // no rule: no table
	} {
		in := shipped(x.file, x.body)
		r := &report{variants: in.Design.VariantNames()}
		lists(in, r)
		got := ""
		for _, f := range r.findings {
			got += f.Text
			if f.Code != "list-differs" || f.At.Line < 2 || f.Hint == "" {
				t.Errorf("%q: %+v", x.body, f)
			}
		}
		if x.want == "" && got != "" || !strings.Contains(got, x.want) {
			t.Errorf("%q: %q, want %q", x.body, got, x.want)
		}
	}
}

func FuzzLists(f *testing.F) {
	f.Add("bom.csv", "part;qty\n\"M3x8; socket\";4\n")
	f.Add("bom.tsv", "what\thow many\nServo\t4\n")
	f.Add("readme.md", "| Item | Qty |\n|---|--:|\n| **M3x8** | 5 |\n")
	f.Add("readme.md", "|\n|-\n|`|")
	f.Fuzz(func(t *testing.T, file, body string) {
		for _, rows := range tablesIn(prose{file: file, body: body}) {
			for _, r := range rows {
				if r.from < 0 || r.to < r.from || r.to > len(body) || r.count < 0 {
					t.Fatalf("row %+v of %d bytes", r, len(body))
				}
			}
		}
	})
}
