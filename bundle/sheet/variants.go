package sheet

import (
	"path"
	"strings"

	"dropwright/bundle/bom"
)

// maxBeside is how many variants stand side by side; a page has no room for more columns that can be read.
const maxBeside = 5

// variants says how this variant differs from the others, so that nobody orders or prints those of another board:
// only what differs, this variant first and in bold print.
func (c *composer) variants() []Block {
	s := c.Beside
	here := -1
	for i, v := range s.Variants {
		if v == c.Variant {
			here = i
		}
	}
	if here < 0 || len(s.Variants) < 2 {
		return nil
	}
	order := []int{here}
	var others []string
	for i, t := range s.Titles {
		if i != here {
			order, others = append(order, i), append(others, t)
		}
	}
	intro := text(Para, c.say("variants intro", s.Titles[here], c.list(others)))
	if len(order) > maxBeside {
		return []Block{intro, text(Para, c.say("variants many"))}
	}
	t := &Table{Caption: c.say("variants caption"), Columns: []Column{{Title: c.say("what differs"), Share: 3}}}
	for n, i := range order {
		col := Column{Title: s.Titles[i], Share: 2}
		if n == 0 {
			col.Title = c.say("this variant", col.Title)
		}
		t.Columns = append(t.Columns, col)
	}
	for _, r := range s.Rows {
		name, ok := c.besideName(r)
		if !r.Differs || !ok {
			continue
		}
		line := Row{Cells: []Cell{name}}
		for n, i := range order {
			x := cell(c.besideCell(r, i))
			x.Spans[0].Strong = n == 0
			line.Cells = append(line.Cells, x)
		}
		t.Rows = append(t.Rows, line)
	}
	if len(t.Rows) == 0 {
		return []Block{text(Para, c.say("variants alike", c.list(s.Titles)))}
	}
	return []Block{intro, {Kind: Grid, Table: t}}
}

// besideName names what a line compares; ok is false for figures that follow from the mesh and stand in the print
// table.
func (c *composer) besideName(r bom.BesideLine) (name Cell, ok bool) {
	name = cell(r.Item)
	switch r.Section {
	case "print":
		if p, known := c.Design.Part(r.Item); known {
			name = cell(c.partName(p))
		}
		switch {
		case strings.HasPrefix(r.What, "count"):
			name.Note = c.say("copies")
		case r.What == "of these mirrored":
			name.Note = c.say("mirrored")
		case r.What == "mesh":
			name.Note = c.say("file")
		default:
			return name, false
		}
	case "filament":
		name.Note = c.say("for whom", strings.TrimPrefix(r.What, "for "))
	case "fastener":
		name.Note = c.fastenerTitle(bom.Fastener{Designation: r.Item, Kind: strings.TrimSuffix(r.What, " (optional)")})
	case "bought":
		name = Cell{Spans: []Span{{Text: r.What}}, Note: r.Item}
	case "total":
		if !c.has("total." + r.Item) {
			return name, false
		}
		name = cell(c.say("total." + r.Item))
	}
	return name, true
}

// besideCell writes one figure in the language's habit.
func (c *composer) besideCell(r bom.BesideLine, i int) string {
	s := r.Cells[i]
	switch {
	case s == "":
		return unknown
	case r.Seconds[i] != nil:
		return c.duration(*r.Seconds[i])
	case r.What == "mesh":
		return path.Base(s)
	case r.Section == "supply":
		return c.say("as needed")
	}
	if c.tongue == german {
		s = strings.Replace(s, ".", ",", 1)
	}
	if r.Unit != "" && r.Unit != "pcs" {
		s += nbsp + r.Unit
	}
	return s
}
