package bom

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/unit"
)

// Beside is the bill's variants side by side: one line for each figure, one cell for each variant. What a variant
// does not have is an empty cell.
type Beside struct {
	Variants []string     `json:"variants"` // names, in the order of the cells
	Titles   []string     `json:"-"`        // what people call them
	Rows     []BesideLine `json:"rows"`
}

// BesideLine is one figure of one thing in every variant.
type BesideLine struct {
	Section string   `json:"section"` // as of Row
	Item    string   `json:"item"`
	What    string   `json:"what"` // "count", "mesh", "mass of one", …
	Unit    string   `json:"unit,omitempty"`
	Cells   []string `json:"cells"`   // a number, a time, a path; "" where the variant does not have it
	Differs bool     `json:"differs"` // the cells are not all the same

	Seconds []*float64 `json:"-"` // of each cell that is a time; nil for what is none
}

// Differ is how many lines differ.
func (s Beside) Differ() int {
	n := 0
	for _, r := range s.Rows {
		if r.Differs {
			n++
		}
	}
	return n
}

// Said says in a word what is particular about a line: "only ce", "not stack", "differs"; "" when nothing is.
func (s Beside) Said(r BesideLine) string {
	if !r.Differs {
		return ""
	}
	var with, without []string
	for i, c := range r.Cells {
		if c != "" {
			with = append(with, s.Variants[i])
		} else {
			without = append(without, s.Variants[i])
		}
	}
	switch {
	case len(without) == 0:
		return "differs"
	case len(with) == 1:
		return "only " + with[0]
	case len(without) == 1:
		return "not " + without[0]
	}
	return "only " + strings.Join(with, ", ")
}

// Beside puts the variants side by side; its rows are those of Rows, those of bed loads left out: they follow from
// the parts. A bill of one variant has none.
func (b BOM) Beside() Beside {
	var out Beside
	if len(b.Variants) < 2 {
		return out
	}
	n := len(b.Variants)
	for _, v := range b.Variants {
		out.Variants = append(out.Variants, v.Variant)
		title := v.Title
		if title == "" {
			title = v.Variant
		}
		out.Titles = append(out.Titles, title)
	}
	index := map[[4]string]int{}
	put := func(k int, section, item, what, of, cell string, seconds *float64) {
		if cell == "" {
			return
		}
		key := [4]string{section, item, what, of}
		i, ok := index[key]
		if !ok {
			i = len(out.Rows)
			index[key] = i
			out.Rows = append(out.Rows, BesideLine{Section: section, Item: item, What: what, Unit: of, Cells: make([]string, n), Seconds: make([]*float64, n)})
		}
		out.Rows[i].Cells[k] = cell
		out.Rows[i].Seconds[k] = seconds
	}
	for k, v := range b.Variants {
		for _, p := range v.Parts {
			put(k, "print", p.Name, "count"+optional(p.Optional), "pcs", fmt.Sprint(p.Copies+p.Mirrored), nil)
			if p.Mirrored > 0 {
				put(k, "print", p.Name, "of these mirrored", "pcs", fmt.Sprint(p.Mirrored), nil)
			}
			put(k, "print", p.Name, "mesh", "", p.Mesh, nil)
			put(k, "print", p.Name, "mass of one", "g", number(p.Grams, 1), nil)
			put(k, "print", p.Name, "time of one", "", duration(p.Seconds), p.Seconds)
		}
		for _, f := range v.Filament {
			put(k, "filament", f.Filament, "for "+f.Role, "g", number(f.Grams, 0), nil)
		}
		for _, f := range v.Fasteners {
			put(k, "fastener", f.Designation, f.Kind+optional(f.Optional), "pcs", fmt.Sprint(f.Count), nil)
		}
		for _, x := range v.Bought {
			u := x.Unit
			if u == "" {
				u = "pcs"
			}
			put(k, "bought", x.Name, x.What+optional(x.Optional), u, unit.Number(x.Count), nil)
		}
		for _, s := range v.Supplies {
			put(k, "supply", s, "", "", "as needed", nil)
		}
		put(k, "total", "printing", "all parts one after another", "", duration(v.PrintSeconds), v.PrintSeconds)
		put(k, "total", "cost", "of what has a price", b.Currency, number(v.Cost, 2), nil)
	}
	// What a later variant brings stands with the rest of its section, and with the lines of the same thing.
	order := map[string]int{}
	for i, s := range sectionTitles {
		order[s.key] = i
	}
	first := map[[2]string]int{}
	for i, r := range out.Rows {
		if _, ok := first[[2]string{r.Section, r.Item}]; !ok {
			first[[2]string{r.Section, r.Item}] = i
		}
	}
	slices.SortStableFunc(out.Rows, func(a, c BesideLine) int {
		if d := order[a.Section] - order[c.Section]; d != 0 {
			return d
		}
		if a.Section == "fastener" {
			if d := kindOrder(strings.TrimSuffix(a.What, optional(true))) - kindOrder(strings.TrimSuffix(c.What, optional(true))); d != 0 {
				return d
			}
		}
		return first[[2]string{a.Section, a.Item}] - first[[2]string{c.Section, c.Item}]
	})
	for i := range out.Rows {
		c := out.Rows[i].Cells
		out.Rows[i].Differs = slices.ContainsFunc(c, func(x string) bool { return x != c[0] })
	}
	// Of a part that is the same everywhere its count is enough: its mesh, mass and time stand in the bill itself.
	out.Rows = slices.DeleteFunc(out.Rows, func(r BesideLine) bool {
		return r.Section == "print" && !r.Differs && !strings.HasPrefix(r.What, "count")
	})
	return out
}

// unlike marks what differs in tables of signs: a sign that is there in print and for who sees no colours.
const unlike = "≠"

// Table is the side-by-side table as text: a sign where the line differs, item, what, unit, a column for each variant,
// and in words how it differs.
func (s Beside) Table() (heads []string, rows [][]string) {
	heads = append(append([]string{unlike, "item", "what", "unit"}, s.Variants...), "differs")
	for _, r := range s.Rows {
		mark := ""
		if r.Differs {
			mark = unlike
		}
		line := []string{mark, r.Item, r.What, r.Unit}
		for _, c := range r.Cells {
			if c == "" {
				c = "–"
			}
			line = append(line, c)
		}
		rows = append(rows, append(line, s.Said(r)))
	}
	return heads, rows
}
