package site

import "strings"

// Table is a table as pages print it; the first cell of a row names it.
type Table struct {
	Caption string // "": none
	Title   string // for readers, where there is no caption
	Head    []Column
	Rows    []Row
}

// Name is what readers call the table.
func (t Table) Name() string {
	if t.Title != "" {
		return t.Title
	}
	return t.Caption
}

// Column is a column's title and how its cells are set.
type Column struct {
	Text   string
	Figure bool // set to the right
	Long   bool // a text that wants the whole width on a phone
}

// Row is one row.
type Row struct {
	Cells []Cell
	Now   bool // it is the present one
}

// Cell is one cell.
type Cell struct {
	Text    string
	Href    string
	Swatch  string // #rrggbb
	Strong  bool
	Note    string
	Command string // to type
}

// Plain makes a table of texts. A column whose title begins with a tab holds figures.
func Plain(title string, head []string, rows [][]string) Table {
	t := Table{Title: title}
	for _, h := range head {
		text, figure := strings.CutPrefix(h, "\t")
		t.Head = append(t.Head, Column{Text: text, Figure: figure})
	}
	for _, r := range rows {
		row := Row{}
		for _, c := range r {
			row.Cells = append(row.Cells, Cell{Text: strings.TrimPrefix(c, "\t")})
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// Table gives the figures of a chart.
func (c Chart) Table() Table { return Plain(c.Title+", in figures", c.Head, c.Rows) }
