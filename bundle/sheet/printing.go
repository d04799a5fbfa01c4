package sheet

import (
	"fmt"
	"math"
	"path"
	"slices"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
)

// printedPart is what the print table says of one part.
type printedPart struct {
	row      bom.Part
	part     design.Part
	name     string
	set      design.Print
	supports bool
}

// printed returns the printed parts of the variant in the bill's order.
func (c *composer) printed() []printedPart {
	var out []printedPart
	for _, r := range c.bill.Parts {
		p, ok := c.Design.Part(r.Name)
		if !ok {
			continue
		}
		x := printedPart{row: r, part: p, name: c.partName(p), set: p.Print.Over(c.House.Print)}
		s := x.set.Supports
		if p.Supports.Set() {
			s = p.Supports
		}
		x.supports = s.V == "needed"
		out = append(out, x)
	}
	return out
}

// partName is how people call a part: its title, else its name.
func (c *composer) partName(p design.Part) string {
	if p.Title.Set() {
		return string(p.Title.V)
	}
	return string(p.Name.V)
}

// materials are the materials of the variant's filaments, each once.
func (c *composer) materials() []string {
	var out []string
	for _, f := range c.bill.Filament {
		if f.Material != "" && !slices.Contains(out, f.Material) {
			out = append(out, f.Material)
		}
	}
	return out
}

// parts shows the finished thing from its other sides and each printed part, where there are pictures.
func (c *composer) parts() []Block {
	var out []Block
	cover, _ := c.cover()
	photos := Block{Kind: Pictures}
	for _, p := range c.Design.Photos {
		if p.Only.Has(c.Variant) && string(p.File.V) != cover.File {
			photos.Pictures = append(photos.Pictures, Picture{File: string(p.File.V), Alt: string(p.Alt.V)})
		}
	}
	if len(photos.Pictures) > 0 {
		out = append(out, photos)
	}
	if c.PartImage == nil {
		return out
	}
	drawn := Block{Kind: Pictures, Small: true}
	for _, p := range c.printed() {
		for _, side := range []struct {
			mirrored bool
			n        int
		}{{false, p.row.Copies}, {true, p.row.Mirrored}} {
			file := c.PartImage(p.row.Name, side.mirrored)
			if side.n == 0 || file == "" {
				continue
			}
			caption := fmt.Sprintf("%d × %s", side.n, p.name)
			if side.mirrored {
				caption += ", " + c.say("mirrored")
			}
			drawn.Pictures = append(drawn.Pictures, Picture{File: file, Alt: c.say("part picture", p.name), Caption: caption})
		}
	}
	if len(drawn.Pictures) > 0 {
		out = append(out, drawn)
	}
	return out
}

// print is the one print table and the totals by colour.
func (c *composer) print() []Block {
	parts := c.printed()
	if len(parts) == 0 {
		return nil
	}
	times := slices.ContainsFunc(parts, func(p printedPart) bool { return p.row.Seconds != nil })
	grams := slices.ContainsFunc(parts, func(p printedPart) bool { return p.row.Grams != nil })
	t := &Table{Caption: c.say("print caption"), Columns: []Column{
		{Title: c.say("part"), Share: 3}, {Title: c.say("copies"), Share: 1.7}, {Title: c.say("colour"), Share: 2.7}, {Title: c.say("layer"), Right: true, Share: 1.1},
		{Title: c.say("walls"), Right: true, Share: 1}, {Title: c.say("infill"), Right: true, Share: 1.1}, {Title: c.say("supports"), Share: 1.5}, {Title: c.say("stands on"), Share: 1.9}}}
	if grams {
		t.Columns = append(t.Columns, Column{Title: c.say("grams each"), Right: true, Share: 1.35})
	}
	if times {
		t.Columns = append(t.Columns, Column{Title: c.say("time each"), Right: true, Share: 1.5})
	}
	for _, p := range parts {
		name := Cell{Spans: []Span{{Text: p.name}}, Note: p.row.Name}
		if c.PartImage != nil {
			name.Picture = c.PartImage(p.row.Name, p.row.Copies == 0)
		}
		if p.name == p.row.Name {
			name.Note = ""
		}
		if p.row.Mesh != "" {
			name.Note = join(": ", name.Note, path.Base(p.row.Mesh))
		}
		if k := p.row.Kind; k != "part" && k != "" {
			name.Note = join(", ", name.Note, c.say("kind."+k))
		}
		if p.row.Optional {
			name.Note = join(", ", name.Note, c.say("optional"))
		}
		if p.part.For.Set() {
			name.Note = join(", ", name.Note, c.say("for what", p.part.For.V))
		}
		c.count("print", p.row.Name, float64(p.row.Copies+p.row.Mirrored))
		r := Row{Cells: []Cell{name, c.copies(p), c.colour(p.row.Role), cell(lengthOf(c, p.set.Layer)), cell(wallsOf(p.set)), cell(infillOf(c, p.set)), c.supports(p), cell(c.stands(p))}}
		if grams {
			r.Cells = append(r.Cells, cell(figure(p.row.Grams, c.tongue.grams)))
		}
		if times {
			r.Cells = append(r.Cells, cell(figure(p.row.Seconds, c.duration)))
		}
		t.Rows = append(t.Rows, r)
	}
	out := []Block{{Kind: Grid, Table: t}}
	if s := c.settings(parts); s != "" {
		out = append(out, text(Small, s))
	}
	return append(out, c.totals()...)
}

func cell(s string) Cell { return Cell{Spans: []Span{{Text: s}}} }

// unknown stands where a figure is not known. It is not a zero.
const unknown = "–"

func figure(x *float64, write func(float64) string) string {
	if x == nil {
		return unknown
	}
	return write(*x)
}

func lengthOf[T ~float64](c *composer, v design.Val[T]) string {
	if !v.Set() {
		return unknown
	}
	return c.mm(float64(v.V))
}

func wallsOf(p design.Print) string {
	if !p.Walls.Set() {
		return unknown
	}
	return fmt.Sprint(int(p.Walls.V))
}

func infillOf(c *composer, p design.Print) string {
	if !p.Infill.Set() {
		return unknown
	}
	return c.short(math.Round(float64(p.Infill.V)*1e4)/100) + nbsp + "%"
}

// copies says how many to print, as drawn and mirrored.
func (c *composer) copies(p printedPart) Cell {
	switch {
	case p.row.Mirrored == 0:
		return cell(fmt.Sprint(p.row.Copies))
	case p.row.Copies == 0:
		return cell(c.say("n mirrored", p.row.Mirrored))
	}
	return Cell{Spans: []Span{{Text: fmt.Sprint(p.row.Copies + p.row.Mirrored)}}, Note: c.say("n drawn, n mirrored", p.row.Copies, p.row.Mirrored)}
}

// colour is a swatch beside the filament's name, its hexadecimal value and its material.
func (c *composer) colour(role string) Cell {
	for _, f := range c.bill.Filament {
		if f.Role == role {
			return Cell{Spans: []Span{{Text: f.Filament, Swatch: f.Colour}}, Note: join(","+nbsp, f.Material, f.Colour)}
		}
	}
	return cell(unknown)
}

func (c *composer) supports(p printedPart) Cell {
	out := cell(c.say("supports.none"))
	if p.supports {
		out = cell(c.say("supports.needed"))
	}
	if p.set.Brim.Set() && p.set.Brim.V > 0 {
		out.Note = c.say("brim", c.mm(float64(p.set.Brim.V)))
	}
	return out
}

// stands says how the part lies on the bed.
func (c *composer) stands(p printedPart) string {
	if p.part.StandOn.Set() {
		return c.say("face." + string(p.part.StandOn.V))
	}
	if m, ok := c.Facts.Mesh(p.row.Mesh); ok && m.StandOn != "" && m.StandOn != "-z" && c.has("face."+m.StandOn) {
		return c.say("face." + m.StandOn)
	}
	return c.say("face.-z")
}

// settings says what is the same for all parts.
func (c *composer) settings(parts []printedPart) string {
	s := parts[0].set
	var words []string
	if s.Line.Set() {
		words = append(words, c.say("line width", c.mm(float64(s.Line.V))))
	}
	if s.Solid.Top.Set() && s.Solid.Bottom.Set() {
		words = append(words, c.say("solid layers", int(s.Solid.Top.V), int(s.Solid.Bottom.V)))
	}
	for _, p := range parts {
		if p.set.Line.V != s.Line.V || p.set.Solid.Top.V != s.Solid.Top.V || p.set.Solid.Bottom.V != s.Solid.Bottom.V {
			return c.say("settings note", c.say("settings differ"))
		}
	}
	if len(words) == 0 {
		return ""
	}
	return c.say("settings note", c.list(words)+".")
}

// totals is the filament by colour.
func (c *composer) totals() []Block {
	if len(c.bill.Filament) == 0 {
		return nil
	}
	t := &Table{Caption: c.say("totals caption"), Columns: []Column{{Title: c.say("colour"), Share: 3}, {Title: c.say("for role"), Share: 2}, {Title: c.say("also offered"), Share: 3}}}
	any := slices.ContainsFunc(c.bill.Filament, func(f bom.Filament) bool { return f.Grams != nil })
	if any {
		t.Columns = append(t.Columns, Column{Title: c.say("mass"), Right: true, Share: 1.5}, Column{Title: c.say("metres"), Right: true, Share: 1.5}, Column{Title: c.say("spools"), Right: true, Share: 1.5})
	}
	sum, known := 0.0, true
	for _, f := range c.bill.Filament {
		or := unknown
		if len(f.Also) > 0 {
			or = c.list(f.Also)
		}
		r := Row{Cells: []Cell{c.colour(f.Role), cell(f.Role), cell(or)}}
		if any {
			mass := cell(figure(f.Grams, c.tongue.grams))
			if f.Grams != nil && f.GramsHigh != nil && *f.GramsHigh > *f.Grams {
				mass.Note = c.say("up to", c.tongue.grams(*f.GramsHigh))
			}
			r.Cells = append(r.Cells, mass, cell(figure(f.Metres, func(x float64) string { return c.number(x, 1) + nbsp + "m" })),
				cell(figure(f.Spools, func(x float64) string { return c.number(x, 2) })))
		}
		t.Rows = append(t.Rows, r)
		if f.Grams == nil {
			known = false
			continue
		}
		sum += *f.Grams
	}
	if known && len(c.bill.Filament) > 1 {
		t.Rows = append(t.Rows, Row{Total: true, Cells: []Cell{cell(c.say("together")), cell(""), cell(""), cell(c.tongue.grams(sum)), cell(""), cell("")}})
	}
	out := []Block{{Kind: Grid, Table: t}}
	if c.bill.PrintSeconds != nil {
		out = append(out, text(Para, c.say("time together", c.duration(*c.bill.PrintSeconds))))
	}
	if known {
		note := c.say("estimate note")
		if b := c.basis(); b != "" {
			note = b + " " + note
		}
		out = append(out, text(Small, note))
	}
	return out
}

// basis says what the figures rest on, when all parts' rest on the same.
func (c *composer) basis() string {
	basis := ""
	for i, p := range c.bill.Parts {
		if i > 0 && p.Basis != basis {
			return ""
		}
		basis = p.Basis
	}
	if !c.has("basis." + basis) {
		return ""
	}
	return c.say("basis." + basis)
}
