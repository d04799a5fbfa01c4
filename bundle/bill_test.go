package bundle_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/board"
	"dropwright/bundle/bom"
	"dropwright/bundle/facts"
	"dropwright/examples"
	"dropwright/series/catalogue"
)

// withOpenpyxl is a Python that has openpyxl, Debian's python3-openpyxl. Without one the test is skipped, or fails
// where DROPWRIGHT_CI is set.
func withOpenpyxl(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"/usr/bin/python3", "python3"} {
		if path, err := exec.LookPath(name); err == nil && exec.Command(path, "-c", "import openpyxl").Run() == nil {
			return path
		}
	}
	if os.Getenv("DROPWRIGHT_CI") != "" {
		t.Fatal("python3-openpyxl is needed here and not installed")
	}
	t.Skip("SKIPPED LOUDLY: python3-openpyxl is not installed; the bill's CSV and workbook were read by nothing but ourselves")
	return ""
}

// laidBill writes a bill as JSON, CSV and workbook into a folder.
func laidBill(t *testing.T, b bom.BOM) [3]string {
	t.Helper()
	dir := t.TempDir()
	var out [3]string
	for i, x := range []struct {
		name  string
		write func(*bytes.Buffer) error
	}{
		{"bill.json", func(w *bytes.Buffer) error { return json.NewEncoder(w).Encode(b) }},
		{"order.csv", func(w *bytes.Buffer) error { return b.WriteCSV(w) }},
		{"order.xlsx", func(w *bytes.Buffer) error { return b.WriteXLSX(w) }},
	} {
		var w bytes.Buffer
		if err := x.write(&w); err != nil {
			t.Fatal(err)
		}
		out[i] = filepath.Join(dir, x.name)
		if err := os.WriteFile(out[i], w.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// TestBillReadByOthers: Python's csv and openpyxl read of every demo design's bill, for one and for seven builds,
// exactly the rows of its JSON; a workbook that was damaged, a CSV of which one count was changed, and a bill with
// one screw fewer are rejected.
func TestBillReadByOthers(t *testing.T) {
	python := withOpenpyxl(t)
	s, err := catalogue.Open(examples.Season, "season", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	title := func(string) string { return "" }
	judge := func(f [3]string) (string, error) {
		out, err := exec.Command(python, "testdata/bill.py", f[0], f[1], f[2]).CombinedOutput()
		return string(out), err
	}
	for _, name := range s.Names {
		w, err := examined(s, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, builds := range []int{1, 7} {
			if out, err := judge(laidBill(t, w.BOM(w.Design.VariantNames(), builds, title))); err != nil {
				t.Errorf("%s, %d builds: %v\n%s", name, builds, err, out)
			}
		}
	}

	w, err := examined(s, "vent-minder")
	if err != nil {
		t.Fatal(err)
	}
	b := w.BOM(w.Design.VariantNames(), 1, title)
	b.Variants[0].Bought[0].What = "=HYPERLINK(\"http://x.example\")"
	b.Variants[0].Bought[0].Instead = []string{"größer: ≥ 3 Ω"}
	b.Variants[0].Fasteners[0].Designation = "@SUM(1+1)"
	b.Variants[0].Parts[0].Name = "-2+3, \"quoted\"\nand on two lines"
	if out, err := judge(laidBill(t, b)); err != nil {
		t.Errorf("hostile texts: %v\n%s", err, out)
	}

	reject := func(what string, f [3]string) {
		t.Helper()
		if out, err := judge(f); err == nil {
			t.Errorf("%s passes:\n%s", what, out)
		}
	}
	edit := func(file string, change func([]byte) []byte) {
		t.Helper()
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		after := change(bytes.Clone(data))
		if bytes.Equal(after, data) {
			t.Fatal("nothing was changed")
		}
		if err := os.WriteFile(file, after, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	good := w.BOM(w.Design.VariantNames(), 1, title)
	f := laidBill(t, good)
	edit(f[1], func(data []byte) []byte {
		return []byte(strings.Replace(string(data), `2.5 mm hex key",8,pcs`, `2.5 mm hex key",9,pcs`, 1))
	})
	reject("a CSV of which one count was changed", f)
	f = laidBill(t, good)
	edit(f[2], func(data []byte) []byte { data[len(data)/2] ^= 0x55; return data })
	reject("a damaged workbook", f)
	fewer := w.BOM(w.Design.VariantNames(), 1, title)
	fewer.Variants[1].Fasteners[0].Count--
	f = laidBill(t, good)
	f[2] = laidBill(t, fewer)[2]
	reject("a workbook with one screw fewer", f)
}

// TestWorkbookIsRepeatable: the same bill gives the same bytes.
func TestWorkbookIsRepeatable(t *testing.T) {
	s, err := catalogue.Open(examples.Season, "season", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	w, err := examined(s, "vent-minder")
	if err != nil {
		t.Fatal(err)
	}
	var first []byte
	for range 5 {
		var out bytes.Buffer
		if err := w.BOM(w.Design.VariantNames(), 3, func(string) string { return "" }).WriteXLSX(&out); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = out.Bytes()
		} else if !bytes.Equal(first, out.Bytes()) {
			t.Fatal("two workbooks of one bill differ")
		}
	}
}

// TestBillKnowsTheSteps: each row names the steps that take it up, by their numbers on the variant's sheet. By hand
// from the manifest: two joints take M3 x 12, in steps 4 and 5.
func TestBillKnowsTheSteps(t *testing.T) {
	s, err := catalogue.Open(examples.Season, "season", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	e, err := s.Load("vent-minder")
	if err != nil {
		t.Fatal(err)
	}
	v := bom.Compute(e.Design, &facts.Design{}, &s.Config.House, []string{"ce"}, 1, func(string) string { return "" }).Variants[0]
	got := map[string][]int{}
	for _, p := range v.Parts {
		got[p.Name] = p.Steps
	}
	for _, f := range v.Fasteners {
		got[f.Designation] = f.Steps
	}
	for _, b := range v.Bought {
		got[b.Name] = b.Steps
	}
	for name, want := range map[string][]int{"case": {1}, "cheek": {4}, "window": {7}, "ISO 4762 - M3 x 12": {4, 5}, "insert M3, outer 4.6, length 5.7": {1}, "ISO 4762 - M3 x 8": {7}, "board": {2}, "tie": {8}} {
		if !slices.Equal(got[name], want) {
			t.Errorf("%s is taken in steps %v, want %v", name, got[name], want)
		}
	}
}
