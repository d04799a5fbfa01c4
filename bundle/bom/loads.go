package bom

import (
	"fmt"
	"strings"

	"dropwright/bundle/bed"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/unit"
)

// Load is how often a printer must be filled for one colour role.
type Load struct {
	Printer string `json:"printer"`
	Count   int    `json:"count"`
	// Seconds is what one load takes on average, with the printer's start and change-over.
	Seconds float64 `json:"seconds_each"`
}

// loads counts the bed loads of one colour role, by area with the allowance that bed states; each part is
// printed on the first printer that takes it. Roles are counted apart even where they use the same filament:
// a builder may choose another for one of them. Nil where a part is not known well enough.
func loads(d *design.Design, f *facts.Design, house *design.House, v, role string, parts []Part) []Load {
	var order []string
	items := map[string][]bed.Item{}
	for _, row := range parts {
		if row.Role != role || row.Optional || row.Copies+row.Mirrored == 0 {
			continue
		}
		x, ok := f.Part(row.Name, v)
		if !ok || x.Estimate == nil || x.Stands == nil || len(x.FitsOn) == 0 {
			return nil
		}
		p, _ := d.Part(row.Name)
		pr := x.FitsOn[0]
		if items[pr] == nil {
			order = append(order, pr)
		}
		items[pr] = append(items[pr], bed.Item{Name: row.Name, Copies: row.Copies + row.Mirrored, Size: *x.Stands, Outline: x.Outline,
			Brim: float64(p.Print.Over(house.Print).Brim.V), Seconds: x.Estimate.Seconds, Grams: x.Estimate.Grams})
	}
	var out []Load
	for _, name := range order {
		b, ok := bedOf(f, house, name)
		if !ok {
			return nil
		}
		l, ok := count(items[name], b)
		if !ok {
			return nil
		}
		l.Printer = name
		out = append(out, l)
	}
	return out
}

func bedOf(f *facts.Design, house *design.House, name string) (bed.Bed, bool) {
	for _, p := range house.Printers {
		if string(p.Name.V) != name || len(p.Bed) != 3 {
			continue
		}
		b := bed.Bed{Edge: bed.DefaultEdge, Spacing: bed.DefaultSpacing}
		for i := range b.Size {
			b.Size[i] = float64(p.Bed[i].V)
		}
		if x, ok := f.Printer(name); ok {
			b.Start, b.ChangeOver = x.Start, x.ChangeOver
		}
		return b, true
	}
	return bed.Bed{}, false
}

// count counts loads. A part that fits the bed only without the rim that is kept free is a load by itself.
func count(items []bed.Item, b bed.Bed) (Load, bool) {
	c, err := bed.Count(items, b)
	if err != nil {
		return Load{}, false
	}
	l := Load{Count: c.Loads}
	total := float64(c.Loads) * c.Seconds
	for _, u := range c.Unplaced {
		x := items[u.Item]
		l.Count += x.Copies
		total += float64(x.Copies) * (b.Start + x.Seconds + b.ChangeOver)
	}
	if l.Count > 0 {
		l.Seconds = total / float64(l.Count)
	}
	return l, l.Count > 0
}

// loadRows are the rows of one colour's bed loads.
func loadRows(variant string, f Filament) []Row {
	var out []Row
	for _, l := range f.Loads {
		word := "loads"
		if l.Count == 1 {
			word = "load"
		}
		out = append(out, Row{Variant: variant, Section: "load", Item: f.Filament, What: "on " + l.Printer + ", time of each", Count: fmt.Sprint(l.Count), Unit: word,
			Time: unit.Duration(l.Seconds).String(), seconds: &l.Seconds, From: fmt.Sprintf("by area, %s of the bed taken", unit.Share(bed.Allowance))})
	}
	return out
}

// Basis says in one line what the figures of a variant rest on, and how far the filament may be off; "" where
// nothing is estimated.
func (v Variant) Basis() string {
	by := map[string][]string{}
	for _, p := range v.Parts {
		if p.Basis != "" {
			by[p.Basis] = append(by[p.Basis], p.Name)
		}
	}
	var said []string
	for _, b := range []struct{ basis, words string }{{"toolpath", "on its print file"}, {"calibrated", "on logged trials"}, {"model", "on the model alone"}} {
		names := by[b.basis]
		switch {
		case len(names) == 0:
			continue
		case len(by) == 1:
			said = append(said, b.words)
		default:
			said = append(said, strings.Join(names, ", ")+" "+b.words)
		}
	}
	if len(said) == 0 {
		return ""
	}
	text := "grams and times rest " + strings.Join(said, "; ")
	for i, f := range v.Filament {
		if f.GramsLow != nil && f.GramsHigh != nil {
			text += fmt.Sprintf("%s %s %.0f to %.0f g", map[bool]string{true: ":", false: ","}[i == 0], f.Filament, *f.GramsLow, *f.GramsHigh)
		}
	}
	return text
}
