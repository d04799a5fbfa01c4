package adopt_test

import (
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle"
	"dropwright/bundle/adopt"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
	"dropwright/bundle/manifest"
	"dropwright/bundle/measure"
	"dropwright/bundle/source"
	"dropwright/examples"
)

// demoHouse is the house of the demo season: printers, filaments and print settings of its series.yaml.
func demoHouse(t testing.TB) *design.House {
	t.Helper()
	data, err := fs.ReadFile(examples.Season, "series.yaml")
	if err != nil {
		t.Fatal(err)
	}
	root, _, found := source.Parse("series.yaml", data)
	if root == nil || len(found) > 0 {
		t.Fatal(found)
	}
	var h design.House
	source.Decode(root, &h) // the keys of the calendar are none of a house: they are said, and left out
	if len(h.Filaments) != 4 || len(h.Printers) != 2 {
		t.Fatalf("%d filaments, %d printers", len(h.Filaments), len(h.Printers))
	}
	return &h
}

// adoptFolder lays a folder out, adopts it, and decodes the draft, which has no finding about its form.
func adoptFolder(t testing.TB, name string, house *design.House) (string, *adopt.Draft, *design.Design) {
	t.Helper()
	dir := layFolder(t, name)
	d, err := adopt.Read(os.DirFS(dir), adopt.Options{Name: name, Date: design.Date{Year: 2027, Month: 1, Day: 5}, Shown: ".", House: house})
	if err != nil {
		t.Fatal(err)
	}
	ctx := manifest.Context{Boards: board.Builtin()}
	if house != nil {
		ctx.Filaments = house.FilamentNames()
	}
	m, _, found := manifest.Decode(name, "design.yaml", d.Manifest, ctx)
	for _, f := range found {
		t.Errorf("the draft's form: %s: %s [%s]", f.At, f.Text, f.Code)
	}
	if m == nil {
		t.Fatal("the draft does not decode")
	}
	return dir, d, m
}

// score counts what came back right.
type score struct {
	right, all int
	wrong      []string
}

func (s *score) add(ok bool, format string, a ...any) {
	s.all++
	if ok {
		s.right++
	} else {
		s.wrong = append(s.wrong, fmt.Sprintf(format, a...))
	}
}

// TestSeasonComesBack: at least 90 % of the parts, copies, fasteners and boards of the demo season come back from
// folders as makers leave them, and nothing marked sure is wrong. The folders and their truth were written before
// this package, by somebody who had not seen it.
func TestSeasonComesBack(t *testing.T) {
	for _, withSeries := range []bool{true, false} {
		sums := map[string]*score{"parts": {}, "copies": {}, "fasteners": {}, "boards": {}, "colours": {}, "licence": {}, "steps": {}}
		for _, name := range folderNames(t, "folders") {
			t.Run(fmt.Sprintf("%s/series=%v", name, withSeries), func(t *testing.T) {
				var house *design.House
				if withSeries {
					house = demoHouse(t)
				}
				_, d, m := adoptFolder(t, name, house)
				own := judgeTruth(t, readTruth(t, name), d, m, withSeries)
				for k, s := range own {
					sums[k].right += s.right
					sums[k].all += s.all
					for _, w := range s.wrong {
						t.Logf("%s: %s", k, w)
					}
				}
				if t.Failed() || testing.Verbose() && len(own["parts"].wrong)+len(own["fasteners"].wrong)+len(own["boards"].wrong) > 0 {
					t.Logf("\n%s", d.Manifest)
				}
			})
		}
		for _, k := range []string{"parts", "copies", "fasteners", "boards", "colours", "licence", "steps"} {
			s := sums[k]
			t.Logf("series=%v: %s: %d of %d", withSeries, k, s.right, s.all)
			if s.all == 0 {
				t.Errorf("%s: nothing was judged", k)
			}
			if slices.Contains([]string{"parts", "copies", "fasteners", "boards"}, k) && s.right*10 < s.all*9 {
				t.Errorf("%s: %d of %d come back right, want 90 %%", k, s.right, s.all)
			}
		}
	}
}

// judgeTruth compares a draft with the truth; what is marked sure and wrong fails.
func judgeTruth(t *testing.T, tr truth, d *adopt.Draft, m *design.Design, withSeries bool) map[string]*score {
	out := map[string]*score{"parts": {}, "copies": {}, "fasteners": {}, "boards": {}, "colours": {}, "licence": {}, "steps": {}}
	sure := map[string]bool{}
	for _, v := range d.Values {
		sure[v.Path] = v.Sure == adopt.Sure
	}
	wrong := func(path, format string, a ...any) {
		if sure[path] {
			t.Errorf("marked sure and wrong: %s: %s", path, fmt.Sprintf(format, a...))
		}
	}
	byFile := map[string]design.Part{}
	printed := 0
	for _, p := range m.Parts {
		for _, f := range p.Mesh.Values() {
			byFile[string(f.V)] = p
		}
		if p.Role.V != "reference" {
			printed++
		}
	}
	names := map[string]string{} // the truth's name of a part to the draft's
	seen := map[string]bool{}
	for _, want := range tr.Parts {
		files := []string{want.File}
		if want.File == "" {
			files = nil
			for _, f := range want.Files {
				files = append(files, f)
			}
		}
		p, ok := byFile[files[0]]
		for _, f := range files {
			q, has := byFile[f]
			ok = ok && has && q.Name.V == p.Name.V && p.Role.V != "reference"
		}
		out["parts"].add(ok, "%s (%v) is no part of the draft", want.Name, files)
		if !ok {
			out["copies"].add(false, "%s: no part", want.Name)
			continue
		}
		names[want.Name] = string(p.Name.V)
		seen[string(p.Name.V)] = true
		path := "parts." + string(p.Name.V)
		drawn, mirrored := p.CopiesOf(m.VariantNames()[0])
		out["copies"].add(drawn == want.Copies && mirrored == want.Mirrored, "%s: %d + %d mirrored, want %d + %d", want.Name, drawn, mirrored, want.Copies, want.Mirrored)
		if drawn != want.Copies {
			wrong(path+".copies", "%d, want %d", drawn, want.Copies)
		}
		if mirrored != want.Mirrored {
			wrong(path+".mirrored", "%d, want %d", mirrored, want.Mirrored)
		}
		pal, _ := m.Colours.Get(string(p.Colour.V))
		got := string(pal.First().V)
		same := got == want.Colour || !withSeries && strings.HasPrefix(got, want.Colour+"-") // "moss green" without a series that has moss
		out["colours"].add(same, "%s: %s, want %s", want.Name, got, want.Colour)
		if !same {
			wrong(path+".colour", "%s, want %s", got, want.Colour)
			wrong("colours."+string(p.Colour.V), "%s, want %s", got, want.Colour)
		}
	}
	for _, p := range m.Parts {
		if p.Role.V != "reference" && !seen[string(p.Name.V)] {
			out["parts"].add(false, "the draft has a part %s that is none", p.Name.V)
			wrong("parts."+string(p.Name.V), "it is no part")
		}
	}
	judgeFasteners(t, tr, m, out["fasteners"], sure)
	for _, want := range tr.Boards {
		ok := false
		for _, v := range m.Variants {
			if want.Variant != "plain" && string(v.Name.V) != want.Variant {
				continue
			}
			for _, b := range v.BoardList() {
				hit := string(b.Profile.V) == want.Profile && string(b.SitsIn.V) == names[want.SitsIn]
				ok = ok || hit
				if !hit && len(v.BoardList()) == 1 {
					wrong("variants."+string(v.Name.V)+".board", "%s in %s, want %s in %s", b.Profile.V, b.SitsIn.V, want.Profile, want.SitsIn)
				}
			}
		}
		out["boards"].add(ok, "%s: no %s in %s", want.Variant, want.Profile, want.SitsIn)
	}
	if len(tr.Boards) == 0 {
		n := 0
		for _, v := range m.Variants {
			n += len(v.BoardList())
		}
		out["boards"].add(n == 0, "the draft has %d boards where there are none", n)
	}
	out["licence"].add(string(m.Licence.V) == tr.Licence, "%s, want %s", m.Licence.V, tr.Licence)
	if string(m.Licence.V) != tr.Licence {
		wrong("licence", "%s, want %s", m.Licence.V, tr.Licence)
	}
	out["steps"].add(len(m.Assembly) == tr.Steps, "%d, want %d", len(m.Assembly), tr.Steps)
	return out
}

// judgeFasteners compares what a shop would be asked for, in each variant.
func judgeFasteners(t *testing.T, tr truth, m *design.Design, s *score, sure map[string]bool) {
	for _, v := range m.VariantNames() {
		got := map[string]int{}
		for _, f := range m.Fasteners {
			if !f.Only.Has(v) {
				continue
			}
			d, ok := f.Designation(v)
			if !ok {
				continue
			}
			x, err := hardware.ScrewDesignation(string(d.V), string(f.Head.V), "")
			if err != nil {
				t.Errorf("%s: %v", f.Name.V, err)
				continue
			}
			n := f.CountOf(v)
			got[x.String()] += n
			if h := f.Into.Held; h != nil && h.Insert != nil {
				got[hardware.Designation{Kind: hardware.KindInsert, Size: hardware.Size(h.Insert.Thread.V), Outer: float64(h.Insert.Outer.V), Length: float64(h.Insert.Length.V)}.String()] += n
			} else if h != nil && h.Nut.Set() {
				got[string(h.Nut.V)+" - "+string(x.Size)] += n
			}
		}
		want := map[string]int{}
		for _, f := range tr.Fasteners {
			if f.Variant != "" && f.Variant != v {
				continue
			}
			key := ""
			switch f.Kind {
			case "screw":
				d, err := hardware.ScrewDesignation(f.Designation, f.Head, "")
				if err != nil {
					t.Fatal(err)
				}
				key = d.String()
			case "insert":
				key = hardware.Designation{Kind: hardware.KindInsert, Size: hardware.Size(f.Designation), Outer: f.Outer, Length: f.Length}.String()
			case "nut":
				key = f.Standard + " - " + f.Designation
			}
			want[key] += f.Count
		}
		for k, n := range want {
			s.add(got[k] == n, "%s: %s: %d, want %d", v, k, got[k], n)
		}
		for k, n := range got {
			if want[k] == 0 {
				s.add(false, "%s: %d × %s are none of the design's", v, n, k)
			}
		}
		for _, f := range m.Fasteners { // a fastener that is marked sure is one of the truth's
			d, ok := f.Designation(v)
			if !ok || !f.Only.Has(v) || !sure["fasteners."+string(f.Name.V)+".screw"] && !sure["fasteners."+string(f.Name.V)+".screw."+v] {
				continue
			}
			x, _ := hardware.ScrewDesignation(string(d.V), string(f.Head.V), "")
			if want[x.String()] == 0 {
				t.Errorf("marked sure and wrong: %s: %s", f.Name.V, x)
			}
			if sure["fasteners."+string(f.Name.V)+".count"] && got[x.String()] != want[x.String()] {
				t.Errorf("marked sure and wrong: %s: count %d, of %s there are %d, want %d", f.Name.V, f.CountOf(v), x, got[x.String()], want[x.String()])
			}
		}
	}
}

// TestContradictionsComeFirst: each planted contradiction is among the first five findings, and no finding about a
// contradiction is false.
func TestContradictionsComeFirst(t *testing.T) {
	judged := 0
	for _, name := range folderNames(t, "contradictions") {
		t.Run(name, func(t *testing.T) {
			house := demoHouse(t)
			dir, d, m := adoptFolder(t, name, house)
			w, err := bundle.Examine(bundle.Source{FS: os.DirFS(dir), Manifest: d.Manifest, Design: m, House: house}, check.Past{}, "", measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			all := d.Rank(w.Checked.Findings)
			tr := readTruth(t, name)
			for i, f := range all {
				t.Logf("%d %s %s: %s", i+1, f.Code, f.At, f.Text)
			}
			judged += checkFound(t, tr, all)
			if t.Failed() {
				t.Logf("\n%s", d.Manifest)
			}
		})
	}
	if judged < 6 {
		t.Errorf("%d findings judged", judged)
	}
}

// holdsWords reports whether a finding says all the words of one that is expected.
func holdsWords(f finding.Finding, w trueWords) bool {
	for _, x := range w.Words {
		if !strings.Contains(strings.ToLower(f.Text), strings.ToLower(x)) {
			return false
		}
	}
	return true
}

// contradiction tells whether a finding is of the kind that speaks of what contradicts what.
func contradiction(f finding.Finding) bool { return adopt.Contradicts(f.Code) }

func checkFound(t *testing.T, tr truth, all []finding.Finding) int {
	t.Helper()
	for _, w := range tr.Findings {
		i := slices.IndexFunc(all, func(f finding.Finding) bool { return holdsWords(f, w) })
		if i < 0 || i >= 5 {
			t.Errorf("no finding with the words %q among the first five", w.Words)
		}
	}
	for _, f := range all {
		if !contradiction(f) {
			continue
		}
		expected := func(list []trueWords) bool {
			return slices.ContainsFunc(list, func(w trueWords) bool { return holdsWords(f, w) })
		}
		if !expected(tr.Findings) && !expected(tr.Also) {
			t.Errorf("a false finding: %s: %s [%s]", f.At, f.Text, f.Code)
		}
	}
	return len(tr.Findings)
}

// TestConsistentFoldersAreQuiet: in the six folders of the demo season nothing contradicts anything else, so that
// every finding of that kind on a draft would be a fault of the draft.
func TestConsistentFoldersAreQuiet(t *testing.T) {
	for _, name := range folderNames(t, "folders") {
		t.Run(name, func(t *testing.T) {
			house := demoHouse(t)
			dir, d, m := adoptFolder(t, name, house)
			w, err := bundle.Examine(bundle.Source{FS: os.DirFS(dir), Manifest: d.Manifest, Design: m, House: house}, check.Past{}, "", measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range d.Rank(w.Checked.Findings) {
				if contradiction(f) {
					t.Errorf("%s: %s [%s]", f.At, f.Text, f.Code)
				}
			}
		})
	}
}
