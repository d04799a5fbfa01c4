package stock

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
)

const sample = `kind,item,label,amount,pack,tare,price,note
spool,clay,clay,432,1000,190,24,"open, dry box"
spool,clay,clay-2,1000,1000,190,24,
spool,straw,straw,61.5,1000,,,
fastener,ISO 4762 - M3 x 8,,38,50,,3.9,
bought,"servo 23 x 12",,2,,,4.2,
build,vent-minder,ce,1,,,,
`

func shelf(t testing.TB) *Shelf {
	t.Helper()
	s, err := Read([]byte(sample))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestReadsWhatItWrites(t *testing.T) {
	s := shelf(t)
	if len(s.Lines) != 6 || s.Lines[0] != (Line{Spool, "clay", "clay", 432, 1000, 190, 24, "open, dry box"}) {
		t.Fatalf("%+v", s.Lines)
	}
	data, err := s.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	again, err := Read(data)
	if err != nil || !reflect.DeepEqual(again, s) {
		t.Errorf("%v\n%s", err, data)
	}
	// As a spreadsheet in another language saves it, and with columns in another order.
	for _, text := range []string{
		"\ufeffsep=;\r\nKind;item;label;amount;note\r\nspool;clay;clay;432 g;x\r\n",
		"amount\tkind\titem\tlabel\tnote\n432\tSPOOL\tclay\tclay\tx\n\n",
	} {
		got, err := Read([]byte(text))
		if err != nil || len(got.Lines) != 1 || got.Lines[0] != (Line{Kind: Spool, Item: "clay", Label: "clay", Amount: 432, Note: "x"}) {
			t.Errorf("%q: %v %+v", text, err, got)
		}
	}
	// One thing under three spellings is one designation.
	for _, text := range []string{"ISO 4762 - M3 x 8", "DIN EN ISO 4762 M3×8", "iso 4762 m3x8"} {
		got, err := Read([]byte("kind,item,amount\nfastener," + text + ",5\n"))
		if err != nil || got.Pieces(Fastener, "ISO 4762 - M3 x 8") != 5 {
			t.Errorf("%q: %v %+v", text, err, got)
		}
	}
}

func TestMistakesHaveALine(t *testing.T) {
	head := "kind,item,label,amount,note\n"
	for _, c := range []struct {
		text string
		line int
		want string
	}{
		{"kind,item\nspool,clay\n", 1, `column "amount" is missing`},
		{"kind,item,amuont\n", 1, `no column is called "amuont"`},
		{"kind,item,item,amount\n", 1, "two columns"},
		{head + "spool,clay,clay,4\nspol,clay,x,3\n", 3, "expected spool, fastener"},
		{head + "spool,clay,clay,\"4,5\"\n", 2, "decimal point"},
		{head + "spool,clay,clay,\n", 2, "expected a number"},
		{head + "spool,clay,clay,-4\n", 2, "0 to 25000"},
		{head + "spool,clay,clay,26000\n", 2, "0 to 25000"},
		{head + "spool,clay,,4\n", 2, "without a label"},
		{head + "spool,,x,4\n", 2, "item is empty"},
		{head + "spool,clay,clay,4\n\nspool,straw,clay,4\n", 4, "line 2 already"},
		{head + "fastener,M3x8,,4\nfastener,m3x8,,4\n", 3, "line 2 already"},
		{head + "spool,clay,clay,4,a,b\n", 2, "6 fields under 5 columns"},
		{head + "spool,\"cl\"ay,clay,4\n", 2, "no line of a CSV file"},
		{head + "bought,\"a\nb\",,4\n", 2, "not plain text"},
		{head + "bought,\xff,,4\n", 2, "not plain text"},
		{head + "bought," + strings.Repeat("x", 500) + ",,4\n", 2, "under 400"},
		{strings.Repeat("x", MaxBytes+1), 1, "the limit is"},
		{head + strings.Repeat("bought,\n", 1), 2, "expected a number"},
	} {
		_, err := Read([]byte(c.text))
		var l *LineError
		if !errors.As(err, &l) || l.Line != c.line || !strings.Contains(l.Text, c.want) || l.Hint == "" {
			t.Errorf("%.60q: want line %d with %q, got %v", c.text, c.line, c.want, err)
		}
	}
	long := head + strings.Repeat("x\n", maxLines+5)
	if _, err := Read([]byte(long)); err == nil {
		t.Error("a file of any length passes")
	}
}

// A cell that a spreadsheet would run is written so that it does not, and read back as it was.
func TestFormulasAreGuarded(t *testing.T) {
	for _, evil := range []string{"=1+1", "+1", "-1", "@SUM(A1)", `=HYPERLINK("http://x.example")`, "'=1", "'quoted'"} {
		s := &Shelf{Lines: []Line{{Kind: Bought, Item: evil, Amount: 1, Note: evil}}}
		data, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		cells, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if !inert(cells) {
			t.Errorf("%q is written as %q", evil, cells[1])
		}
		got, err := Read(data)
		if err != nil || got.Lines[0].Item != evil || got.Lines[0].Note != evil {
			t.Errorf("%q comes back as %+v, %v", evil, got, err)
		}
		ideas := &Ideas{List: []Idea{{Name: "x", Title: evil, Note: evil}}}
		data, err = ideas.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		back, err := ReadIdeas(data)
		if err != nil || back.List[0].Title != evil {
			t.Errorf("idea %q comes back as %+v, %v", evil, back, err)
		}
	}
	if inert([][]string{{"a", "=1+1"}}) {
		t.Error("the judge lets a formula pass")
	}
}

// inert says that no cell begins as a formula does (OWASP, CSV Injection).
func inert(cells [][]string) bool {
	for _, row := range cells {
		for _, c := range row {
			if c != "" && strings.ContainsAny(c[:1], "=+-@\t\r") {
				return false
			}
		}
	}
	return true
}

func TestWeigh(t *testing.T) {
	s := shelf(t)
	was, is, err := s.Weigh("clay-2", 622, 0, false)
	if err != nil || was.Amount != 1000 || is.Amount != 432 { // 622 - 190
		t.Errorf("%v %+v %+v", err, was, is)
	}
	if _, is, err = s.Weigh("straw", 251.5, 200, false); err != nil || is.Amount != 51.5 || is.Tare != 200 {
		t.Errorf("%v %+v", err, is)
	}
	if _, is, err = s.Weigh("straw", 40, -1, false); err != nil || is.Amount != 40 || is.Tare != 200 {
		t.Errorf("net: %v %+v", err, is)
	}
	for _, c := range []struct {
		name        string
		gross, tare float64
		want        string
	}{
		{"clay", 100, 0, "less than the 190 g of the empty one"},
		{"clay", 1400, 0, "on a spool of 1000 g"},
		{"moss", 400, 0, "no spool of moss"},
		{"clay", 30_000, 0, "on a spool of 1000 g"},
	} {
		before := fmt.Sprint(s.Lines)
		_, _, err := s.Weigh(c.name, c.gross, c.tare, false)
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(p.Text, c.want) || p.Hint == "" || fmt.Sprint(s.Lines) != before {
			t.Errorf("%v: %v", c, err)
		}
	}
	two := &Shelf{Lines: []Line{{Kind: Spool, Item: "clay", Label: "a"}, {Kind: Spool, Item: "clay", Label: "b"}}}
	if _, _, err := two.Weigh("clay", 400, 1, false); err == nil || !strings.Contains(err.Error(), "2 spools") {
		t.Error(err)
	}
	if _, _, err := two.Weigh("a", 400, 0, false); err == nil || !strings.Contains(err.Error(), "nothing says") {
		t.Error(err)
	}
}

// The open spool nearest its end goes first, a spool that does not hold the print is left alone, and where none
// holds it nothing is lost or made up.
func TestTake(t *testing.T) {
	amounts := func(s *Shelf) []float64 {
		var out []float64
		for _, l := range s.Lines {
			out = append(out, l.Amount)
		}
		return out
	}
	for _, c := range []struct {
		have    []float64
		want    float64
		left    []float64
		missing float64
	}{
		{[]float64{432, 1000}, 41, []float64{391, 1000}, 0},
		{[]float64{432, 80, 1000}, 61, []float64{432, 19, 1000}, 0},
		{[]float64{432, 50, 1000}, 61, []float64{371, 50, 1000}, 0},
		{[]float64{50, 1000}, 61, []float64{50, 939}, 0},
		{[]float64{50, 40}, 61, []float64{0, 29}, 0},
		{[]float64{50, 40}, 100, []float64{0, 0}, 10},
		{nil, 5, nil, 5},
	} {
		s := &Shelf{}
		for i, a := range c.have {
			s.Lines = append(s.Lines, Line{Kind: Spool, Item: "clay", Label: fmt.Sprint("s", i), Amount: a, Pack: 1000})
		}
		done, missing := s.Take("clay", c.want)
		if !reflect.DeepEqual(amounts(s), c.left) || missing != c.missing {
			t.Errorf("%v less %v: %v missing %v", c.have, c.want, amounts(s), missing)
		}
		for _, d := range done {
			if d[0].Label != d[1].Label || d[1].Amount >= d[0].Amount {
				t.Errorf("%+v", d)
			}
		}
	}
	// Whatever is taken: what is left, what was taken and what was missing add up.
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		s := &Shelf{}
		total := 0.0
		for i := range r.IntN(5) {
			a := float64(r.IntN(1200))
			total += a
			s.Lines = append(s.Lines, Line{Kind: Spool, Item: "clay", Label: fmt.Sprint("s", i), Amount: a, Pack: 1000})
		}
		want := float64(r.IntN(2000))
		_, missing := s.Take("clay", want)
		left, _ := s.Grams("clay")
		if math.Abs(total-left-(want-missing)) > 0.01 || missing > 0 && left > 0 {
			t.Fatalf("%v of %v: left %v, missing %v", want, total, left, missing)
		}
	}
}

func TestCountAndAdd(t *testing.T) {
	s := shelf(t)
	if _, is, err := s.Count(Fastener, "ISO 4762 - M3 x 8", "", -4, 0, 0); err != nil || is.Amount != 34 || is.Pack != 50 {
		t.Errorf("%v %+v", err, is)
	}
	if _, _, err := s.Count(Fastener, "ISO 4762 - M3 x 8", "", -35, 0, 0); err == nil || !strings.Contains(err.Error(), "34 pcs") {
		t.Error(err)
	}
	if _, is, err := s.Count(Build, "vent-minder", "stack", 1, 0, 0); err != nil || is.Amount != 1 || s.Builds("vent-minder", "ce") != 1 {
		t.Errorf("%v %+v", err, is)
	}
	l, err := s.AddSpool(Line{Item: "clay", Amount: 1000, Pack: 1000})
	if err != nil || l.Label != "clay-3" {
		t.Errorf("%v %+v", err, l)
	}
	if _, err := s.AddSpool(Line{Item: "clay", Label: "clay", Amount: 1}); err == nil {
		t.Error("a label twice")
	}
	if _, err := s.AddSpool(Line{Item: "clay", Label: "Clay 1", Amount: 1}); err == nil {
		t.Error("a label with a blank")
	}
	if all, fullest := s.Grams("clay"); all != 2432 || fullest != 1000 {
		t.Error(all, fullest)
	}
	if pack, price := s.Last(Fastener, "ISO 4762 - M3 x 8"); pack != 50 || price != 3.9 {
		t.Error(pack, price)
	}
	if l, err := s.Remove("clay-2"); err != nil || l.Label != "clay-2" {
		t.Error(err)
	}
	if l, ok := s.Give("straw", 8.5); !ok || l.Amount != 70 {
		t.Error(l)
	}
}

func TestIdeas(t *testing.T) {
	l, err := ReadIdeas([]byte("name,title,week,asked,note\nfrost-bell,Frost Bell,4,9,rings\n"))
	if err != nil {
		t.Fatal(err)
	}
	x, err := l.Add(Idea{Name: "frost-bell", Note: "a buzzer", Asked: 1})
	if err != nil || x != (Idea{"frost-bell", "Frost Bell", 4, 10, "rings; a buzzer"}) {
		t.Errorf("%v %+v", err, x)
	}
	if _, err := l.Add(Idea{Name: "Pot Scale"}); err == nil || !strings.Contains(err.Error(), "lower-case") {
		t.Error(err)
	}
	if _, err = l.Add(Idea{Name: "pot-scale", Title: "Pot Scale", Asked: 1}); err != nil || len(l.List) != 2 {
		t.Error(err)
	}
	data, _ := l.Bytes()
	if again, err := ReadIdeas(data); err != nil || !reflect.DeepEqual(again, l) {
		t.Errorf("%v\n%s", err, data)
	}
	if _, err := l.Remove("pot-scal"); err == nil {
		t.Error("no such idea")
	} else if p := (*Problem)(nil); !errors.As(err, &p) || !strings.Contains(p.Hint, "pot-scale") {
		t.Error(err)
	}
	for text, want := range map[string]string{
		"name,week\nx,four\n":         "week: expected",
		"name,asked\nx,-1\n":          "asked: expected",
		"name\nX\n":                   "lower-case",
		"name\nx\nx\n":                "stands above",
		"nmae\nx\n":                   "no column",
		"name,note\nx,\"a\x01b\"\n":   "not plain text",
		"name,asked\nx,99999999999\n": "asked: expected",
	} {
		if _, err := ReadIdeas([]byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// FuzzRead: whatever the bytes, a shelf comes out or an error with its line; and what came out is written and
// read back to the same.
func FuzzRead(f *testing.F) {
	f.Add([]byte(sample))
	f.Add([]byte("sep=;\nkind;item;amount\nbought;=1;2\n"))
	f.Add([]byte("name,title,week,asked,note\nfrost-bell,Frost Bell,4,9,rings\n"))
	f.Add([]byte("kind,item,amount\n\"bought\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if s, err := Read(data); err == nil {
			out, err := s.Bytes()
			if err != nil {
				t.Fatalf("%q: %v", data, err)
			}
			again, err := Read(out)
			if err != nil || len(again.Lines) != len(s.Lines) {
				t.Fatalf("%q\n%q: %v", data, out, err)
			}
			cells, err := csv.NewReader(strings.NewReader(string(out))).ReadAll()
			if err != nil || !inert(cells) {
				t.Fatalf("%q", out)
			}
			for i := range s.Lines {
				a, b := s.Lines[i], again.Lines[i]
				if a.Item != b.Item || a.Label != b.Label || a.Note != b.Note || math.Abs(a.Amount-b.Amount) > 1e-4 {
					t.Fatalf("%+v\n%+v", a, b)
				}
			}
		} else if l := (*LineError)(nil); !errors.As(err, &l) || l.Line < 1 || l.Hint == "" {
			t.Fatalf("%q: %v", data, err)
		}
		if l, err := ReadIdeas(data); err == nil {
			out, err := l.Bytes()
			if err != nil {
				t.Fatal(err)
			}
			if again, err := ReadIdeas(out); err != nil || !reflect.DeepEqual(again, l) {
				t.Fatalf("%q: %v", out, err)
			}
		}
	})
}
