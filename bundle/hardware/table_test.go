package hardware

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Every table is whole: known confidence, known sources, a title, and a source for every row.
func TestTablesAreWhole(t *testing.T) {
	rows := 0
	names := map[string]bool{}
	for _, table := range Tables() {
		if names[table.Name] {
			t.Errorf("table %q occurs twice", table.Name)
		}
		names[table.Name] = true
		if table.Title == "" || len(table.Rows) == 0 {
			t.Errorf("table %q has no title or no rows", table.Name)
		}
		for _, r := range table.Rows {
			rows++
			if !slices.Contains([]Confidence{Agreed, OneSource, Practice, Memory}, r.Confidence) {
				t.Errorf("%s %v: confidence %q", table.Name, r.Cells, r.Confidence)
			}
			if len(r.Sources) == 0 {
				t.Errorf("%s %v has no source", table.Name, r.Cells)
			}
			for _, id := range r.Sources {
				if _, ok := SourceOf(id); !ok {
					t.Errorf("%s %v: source %q is not listed", table.Name, r.Cells, id)
				}
			}
			if slices.Equal(r.Sources, []string{"MEM"}) && r.Confidence != Memory && r.Confidence != Practice {
				t.Errorf("%s %v is from memory but marked %s", table.Name, r.Cells, r.Confidence)
			}
			if s := r.Text("size"); s != "" && !strings.HasPrefix(s, "M") {
				t.Errorf("%s: size %q", table.Name, s)
			}
			for i, c := range r.Cells {
				if strings.Contains(c.Text, "~") || c.Text == "-" {
					t.Errorf("%s %s: cell %q was not taken apart", table.Name, r.columns[i], c.Text)
				}
			}
		}
	}
	// The reference list had 496 rows; pins, torques, named products and words were left out.
	if rows < 380 {
		t.Errorf("only %d rows were read", rows)
	}
}

// Every standard of the list finds its figures, its range of lengths and its series.
func TestStandardsFindTheirTables(t *testing.T) {
	for _, s := range Standards() {
		if len(table(s.figures).Rows) == 0 {
			t.Errorf("%s: no table %q", s.Number, s.figures)
		}
		if got, ok := StandardOf(s.Number); !ok || got != s {
			t.Errorf("%s is not found by its own number", s.Number)
		}
		if s.Withdrawn {
			if pair, ok := table("twin").find("DIN", s.Number); !ok {
				t.Errorf("%s has no twin", s.Number)
			} else if _, ok := StandardOf(pair.Text("ISO")); !ok {
				t.Errorf("twin %s of %s is not known", pair.Text("ISO"), s.Number)
			}
		}
		if s.Kind != KindScrew {
			continue
		}
		if _, ok := table("length-series").find("series", s.series); !ok {
			t.Errorf("%s: no series %q", s.Number, s.series)
		}
		screw, ok := ScrewOf(s.Number, "M3")
		if !ok || screw.Driver == (Driver{}) || screw.Longest == 0 {
			t.Errorf("%s M3: %+v", s.Number, screw)
		}
		if s.Head != HeadSet && (screw.HeadDiameter < 4 || screw.HeadHeight < 1) {
			t.Errorf("%s M3 has a head of %v x %v", s.Number, screw.HeadDiameter, screw.HeadHeight)
		}
	}
	for _, h := range Heads() {
		if s, ok := StandardFor(h); !ok || s.Head != h {
			t.Errorf("head %q has no standard", h)
		}
	}
}

// ISO 724 and ISO 898-1 give the derived figures by formula; the table rounds to 0.001 mm and to
// three digits of area.
func TestThreadsFollowTheirFormulas(t *testing.T) {
	const tolLength, tolArea = 0.00061, 0.051
	for _, s := range Sizes() {
		th, ok := ThreadOf(s)
		if !ok {
			t.Fatalf("no thread %s", s)
		}
		d, p := th.Nominal, th.Pitch
		d2, d3 := d-0.649519*p, d-1.226869*p
		for _, c := range []struct {
			name      string
			got, want float64
			tol       float64
		}{
			{"minor", th.Minor, d - 1.082532*p, tolLength}, {"pitch diameter", th.PitchDiameter, d2, tolLength}, {"root", th.Root, d3, tolLength},
			{"stress area", th.StressArea, math.Pi / 4 * (d2 + d3) / 2 * (d2 + d3) / 2, tolArea},
		} {
			if math.Abs(c.got-c.want) > c.tol {
				t.Errorf("%s %s: %v, formula %v", s, c.name, c.got, c.want)
			}
		}
		if !(th.OutsideMin < th.OutsideMax && th.OutsideMax < d) {
			t.Errorf("%s: 6g limits %v to %v", s, th.OutsideMin, th.OutsideMax)
		}
	}
	// ISO 898-1 as printed by USEFAST.
	for size, area := range map[Size]float64{"M3": 5.03, "M4": 8.78, "M5": 14.2, "M6": 20.1} {
		if th, _ := ThreadOf(size); th.StressArea != area {
			t.Errorf("%s stress area %v, published %v", size, th.StressArea, area)
		}
	}
}

// column reads one column of a table as "size value" pairs.
func column(t *testing.T, name, col string) map[string]string {
	t.Helper()
	m := map[string]string{}
	for _, r := range table(name).Rows {
		m[r.Text("size")] = r.Text(col)
	}
	return m
}

// The rows of each standard against a second source than the first one named in its table. The
// lists run over the sizes given; figures as that source prints them.
func TestRowsAgainstSecondSources(t *testing.T) {
	sizes := strings.Fields("M1.6 M2 M2.5 M3 M4 M5 M6")
	from3 := sizes[3:]
	with35 := strings.Fields("M1.6 M2 M2.5 M3 M3.5 M4 M5 M6")
	cases := []struct {
		table, column, source string
		sizes                 []string
		values                string
	}{
		{"clearance", "fine", "BDW; board holes of KICAD from M2", sizes, "1.7 2.2 2.7 3.2 4.3 5.3 6.4"},
		{"clearance", "medium", "BDW", sizes, "1.8 2.4 2.9 3.4 4.5 5.5 6.6"},
		{"clearance", "coarse", "BDW", sizes, "2 2.6 3.1 3.6 4.8 5.8 7"},
		{"iso4762", "head diameter", "EHW", sizes, "3 3.8 4.5 5.5 7 8.5 10"},
		{"iso4762", "head diameter knurled", "BDW", sizes, "3.14 3.98 4.68 5.68 7.22 8.72 10.22"},
		{"iso4762", "head height", "BOLTS", sizes, "1.6 2 2.5 3 4 5 6"},
		{"iso4762", "hex key", "BOLTS", sizes, "1.5 1.5 2 2.5 3 4 5"},
		{"iso4762", "shortest", "NNB", sizes, "2.5 3 4 5 6 8 8"},
		{"iso4762", "longest", "NNB", sizes, "16 20 25 30 40 50 60"},
		{"iso7380-1", "head diameter", "WESTF", from3, "5.7 7.6 9.5 10.5"},
		{"iso7380-1", "head height", "HOLOK", from3, "1.65 2.2 2.75 3.3"},
		{"iso7380-1", "hex key", "WESTF", from3, "2 2.5 3 4"},
		{"iso10642", "sharp cone diameter", "EHW", from3, "6.72 8.96 11.2 13.44"},
		{"iso10642", "head height", "CODECUP", from3, "1.86 2.48 3.1 3.72"},
		{"iso7045", "head diameter", "FULLER7045", with35, "3.2 4 5 5.6 7 8 9.5 12"},
		{"iso7045", "head height", "FULLER7045", with35, "1.3 1.6 2.1 2.4 2.6 3.1 3.7 4.6"},
		{"iso7045", "recess", "FULLER7045", with35, "PH0 PH0 PH1 PH1 PH2 PH2 PH2 PH3"},
		{"iso7046", "head diameter", "FASTEN7046", with35, "3 3.8 4.7 5.5 7.3 8.4 9.3 11.3"},
		{"iso7046", "head height", "FASTEN7046", with35, "1 1.2 1.5 1.65 2.35 2.7 2.7 3.3"},
		{"iso7046", "shortest", "BDW", from3, "4 5 6 8"},
		{"din965", "head diameter", "BDW (filed under iso7046)", sizes, "3 3.8 4.7 5.6 7.5 9.2 11"},
		{"din7991", "head diameter", "UIS", from3, "6 8 10 12"},
		{"din7991", "head height", "BOLTS", from3, "1.7 2.3 2.8 3.3"},
		{"din7985", "head height", "F51", from3, "2.52 3.25 3.95 4.75"},
		{"iso1580", "head diameter", "BDW", with35, "3.2 4 5 5.6 7 8 9.5 12"},
		{"hexalobular", "pan", "BDW", with35[1:], "T6 T8 T10 T15 T20 T25 T30"},
		{"iso4032", "across flats", "BOSL2", sizes, "3.2 4 5 5.5 7 8 10"},
		{"iso4032", "height", "NNB", sizes, "1.3 1.6 2 2.4 3.2 4.7 5.2"},
		{"din934", "height", "NOP", sizes, "1.3 1.6 2 2.4 3.2 4 5"},
		{"iso4035", "height", "BDW", sizes, "1 1.2 1.6 1.8 2.2 2.7 3.2"},
		{"din985", "height", "FASTEN985", from3, "4 5 5 6"},
		{"din562", "height", "CREATIVEF", sizes, "1 1.2 1.6 1.8 2.2 2.7 3.2"},
		{"iso7089", "outer", "BOLTS", sizes, "4 5 6 7 9 10 12"},
		{"iso7089", "thickness max", "BDW (stored as h)", sizes, "0.35 0.35 0.55 0.55 0.9 1.1 1.8"},
		{"iso7092", "outer", "BOLTS", sizes, "3.5 4.5 5 6 8 9 11"},
		{"iso7093-1", "outer", "BDW", from3, "9 12 15 18"},
		{"pilot", "tight", "NOP", sizes[1:], "1.6 2.05 2.5 3.3 4.2 5"},
	}
	for _, c := range cases {
		got := column(t, c.table, c.column)
		values := strings.Fields(c.values)
		if len(values) != len(c.sizes) {
			t.Fatalf("%s %s: the test lists %d values for %d sizes", c.table, c.column, len(values), len(c.sizes))
		}
		for i, size := range c.sizes {
			if got[size] != values[i] {
				t.Errorf("%s %s %s: %q, %s has %q", c.table, size, c.column, got[size], c.source, values[i])
			}
		}
	}
}

// The drivers stand in two places: in the rows of the heads and in a list of their own (FCF,
// FULLER7045, FULLER7046, FASENCO, BDW). Both must say the same.
func TestDriversAgree(t *testing.T) {
	for _, r := range table("driver").Rows {
		size := Size(r.Text("size"))
		for _, number := range []string{"ISO 4762", "ISO 7380-1", "ISO 10642", "ISO 7045", "ISO 7046", "DIN 7985", "ISO 14583"} {
			want := r.Text(number)
			s, ok := ScrewOf(number, size)
			if want == "" || !ok {
				continue // below M3 the hex-socket heads of smaller sizes are outside their standard
			}
			if _, err := strconv.ParseFloat(want, 64); err == nil {
				want += " mm hex key"
			} else {
				want += " screwdriver"
			}
			if got := s.Driver.String(); got != want {
				t.Errorf("%s %s: %q, list of drivers %q", number, size, got, want)
			}
		}
	}
}

// A wrong table must not be read as if it were right.
func TestBrokenTablesAreRefused(t *testing.T) {
	for name, text := range map[string]string{
		"no name":         "size | conf | sources | note\n",
		"no conf column":  "[a]\nsize | sources | note\n",
		"too few cells":   "[a]\nsize | conf | sources | note\nM3 | A\n",
		"unknown key":     "[a]\ncolour: red\n",
		"no data columns": "[a]\nconf | sources | note\n",
	} {
		if _, err := parseTables(text); err == nil || !strings.Contains(err.Error(), "line ") {
			t.Errorf("%s: error %v", name, err)
		}
	}
	if _, err := parseSources("FCF | repo\n"); err == nil {
		t.Error("a source without reference was read")
	}
}

// What a caller gets is a copy.
func TestTablesAreCopies(t *testing.T) {
	a := Tables()
	a[0].Rows[0].Cells[0].Text = "changed"
	a[0].Rows[0].Sources[0] = "changed"
	a[0].Columns[0] = "changed"
	b := Tables()
	if b[0].Rows[0].Cells[0].Text == "changed" || b[0].Rows[0].Sources[0] == "changed" || b[0].Columns[0] == "changed" {
		t.Error("a caller can change the tables")
	}
}

func TestLookup(t *testing.T) {
	f, ok := Lookup("m2.5")
	if !ok || f.Query != "M2.5" {
		t.Fatalf("Lookup: %v, %q", ok, f.Query)
	}
	var names []string
	for _, table := range f.Tables {
		names = append(names, table.Name)
		for _, r := range table.Rows {
			if r.Text("size") != "M2.5" {
				t.Errorf("%s has a row of %s", table.Name, r.Text("size"))
			}
		}
	}
	for _, want := range []string{"thread", "clearance", "pilot", "iso4762", "iso4032", "iso7089", "insert", "insert-spread", "standoff"} {
		if !slices.Contains(names, want) {
			t.Errorf("Lookup M2.5 lacks %s", want)
		}
	}
	a, _ := json.Marshal(f)
	b, err := json.Marshal(f)
	if err != nil || string(a) != string(b) {
		t.Error("JSON is not the same twice")
	}
	if !strings.Contains(string(a), `"hole":3.2,"outer":3.65`) || !strings.Contains(string(a), `"sources":["PENC_MNZ"]`) {
		t.Errorf("JSON lacks the small-body insert: %s", a)
	}
	for query, table := range map[string]string{"ISO 4762": "iso4762", "DIN 965": "twin", "petg": "filament", "fan 92": "fan", "AWG 24": "wire", "M3x16": "clearance", "ISO 7089 - M4": "iso7089"} {
		f, ok := Lookup(query)
		if !ok || !slices.ContainsFunc(f.Tables, func(t Table) bool { return t.Name == table }) {
			t.Errorf("Lookup %q lacks table %s", query, table)
		}
	}
	for _, query := range []string{"", "M7", "fan 41", "soup", strings.Repeat("M", 1000)} {
		if _, ok := Lookup(query); ok {
			t.Errorf("Lookup %q found something", query)
		}
	}
	// The head's least diameter of ISO 10642 is from memory in a row that is otherwise agreed.
	f, _ = Lookup("ISO 10642")
	a, _ = json.Marshal(f.Tables[0].Rows[3])
	if !strings.Contains(string(a), `"confidence":"A","confidence_of":{"head_diameter":"B","head_diameter_min":"M"}`) {
		t.Errorf("the remembered figure is not marked: %s", a)
	}
}

func BenchmarkLoad(b *testing.B) {
	for range b.N {
		for _, name := range tableOrder {
			text, _ := tableFiles.ReadFile("tables/" + name + ".txt")
			if _, err := parseTables(string(text)); err != nil {
				b.Fatal(err)
			}
		}
	}
}
