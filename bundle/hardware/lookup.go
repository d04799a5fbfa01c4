package hardware

import (
	"slices"
	"strings"
)

// Found is the answer of Lookup: tables with only the rows that concern what was asked, and the
// sources that those rows name.
type Found struct {
	Query   string   `json:"query"` // as understood: "M2.5", "ISO 4762", "PETG", "fan 40", "AWG 24"
	Tables  []Table  `json:"tables"`
	Sources []Source `json:"sources"` // sorted by id
}

// Lookup gathers every row that concerns a thread size ("M2.5"), a standard ("ISO 4762",
// "DIN 912"), a designation ("M3x16", "ISO 4762 - M3 x 16": its size), a filament material
// ("PETG"), a fan's frame ("fan 40") or a wire ("AWG 24"). ok is false when no row does.
func Lookup(query string) (f Found, ok bool) {
	t := plainText(query)
	if len(t) > maxText {
		return Found{}, false
	}
	keep, name := rowsFor(t)
	if keep == nil {
		return Found{}, false
	}
	f.Query = name
	for _, table := range loaded().tables {
		if part := table.only(func(r Row) bool { return keep(table, r) }); len(part.Rows) > 0 {
			f.Tables = append(f.Tables, part)
		}
	}
	f.Sources = sourcesOf(f.Tables)
	return f, len(f.Tables) > 0
}

// rowsFor turns a question into a test of rows and the question's canonical name; nil if it is
// none that is understood.
func rowsFor(t string) (keep func(Table, Row) bool, name string) {
	fields := strings.Fields(strings.ToLower(t))
	if len(fields) == 2 && (fields[0] == "fan" || fields[0] == "awg") {
		column := map[string]string{"fan": "frame", "awg": "awg"}[fields[0]]
		keep = func(_ Table, r Row) bool { return r.Text(column) == fields[1] }
		return keep, map[string]string{"fan": "fan ", "awg": "AWG "}[fields[0]] + fields[1]
	}
	if f, ok := FilamentOf(t); ok {
		return func(_ Table, r Row) bool { return r.Text("material") == f.Material }, f.Material
	}
	size, err := ParseSize(t)
	if err != nil {
		if s, _, err2 := ParseScrew(t); err2 == nil {
			size, err = s, nil
		} else if d, err2 := ParseDesignation(t); err2 == nil {
			size, err = d.Size, nil
		}
	}
	if err == nil {
		return func(_ Table, r Row) bool { return r.Text("size") == string(size) }, string(size)
	}
	if std, ok := StandardOf(t); ok {
		names := []string{std.figures, std.ranges}
		return func(t Table, r Row) bool {
			return slices.Contains(names, t.Name) ||
				t.Name == "length-series" && r.Text("series") == std.series ||
				t.Name == "twin" && (r.Text("DIN") == std.Number || r.Text("ISO") == std.Number)
		}, std.Number
	}
	return nil, ""
}

// sourcesOf lists the sources that the rows of tables name, sorted by id.
func sourcesOf(tables []Table) []Source {
	var ids []string
	for _, t := range tables {
		for _, r := range t.Rows {
			ids = addNew(ids, r.Sources...)
		}
	}
	slices.Sort(ids)
	var list []Source
	for _, id := range ids {
		if s, ok := SourceOf(id); ok {
			list = append(list, s)
		}
	}
	return list
}
