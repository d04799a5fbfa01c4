package hardware

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

//go:embed tables/*.txt
var tableFiles embed.FS

// tableOrder is the order in which files are read and tables are listed.
var tableOrder = []string{"threads", "screws", "nuts", "plastic", "bought", "memory"}

// Confidence says how well a figure is known: A, B, C or M. See the package comment.
type Confidence string

// The four degrees of confidence.
const (
	Agreed    Confidence = "A" // two or more published sources agree
	OneSource Confidence = "B" // one source, or sources differ and this is the choice
	Practice  Confidence = "C" // common practice, published but no standard
	Memory    Confidence = "M" // from memory, no source found
)

// Words puts the confidence in words that fit behind a figure.
func (c Confidence) Words() string {
	switch c {
	case Agreed:
		return "two or more sources agree"
	case OneSource:
		return "one source"
	case Practice:
		return "common practice, no standard"
	case Memory:
		return "from memory, no source"
	}
	return "unknown"
}

// weaker returns the lower of two degrees; "" counts as best.
func weaker(a, b Confidence) Confidence {
	if strings.Compare(string(a), string(b)) >= 0 { // "A" < "B" < "C" < "M"
		return a
	}
	return b
}

// Provenance says where a figure came from.
type Provenance struct {
	Table      string     `json:"table"`          // name of the table, as Lookup lists it
	Sources    []string   `json:"sources"`        // ids, see SourceOf
	Confidence Confidence `json:"confidence"`     // of the weakest figure taken
	Note       string     `json:"note,omitempty"` // what disagrees or is odd
}

// Weak tells whether a finding that leans on the figure has to say so: it is common practice or
// from memory.
func (p Provenance) Weak() bool { return p.Confidence == Practice || p.Confidence == Memory }

// Caveat is empty for figures that need no remark, else a few words such as
// "common practice, no standard" to put behind the figure.
func (p Provenance) Caveat() string {
	if !p.Weak() {
		return ""
	}
	return p.Confidence.Words()
}

// Source is one publication that figures were taken from.
type Source struct {
	ID   string `json:"id"`
	Kind string `json:"kind"` // page, pdf, repo, book, wiki, file, calc, memory
	Ref  string `json:"ref"`
}

// Cell is one figure of a table as it is written there. Confidence is set only where the figure is
// better or less well known than the rest of its row.
type Cell struct {
	Text       string
	Confidence Confidence
}

// Row is one line of a table. Cells run parallel to the Columns of its Table; an empty Text means
// that the figure is not known or does not apply.
type Row struct {
	columns []string
	Cells   []Cell
	Provenance
}

// Table is one table of figures with its explanation.
type Table struct {
	Name     string   `json:"name"`
	Title    string   `json:"title"`
	Standard string   `json:"standard,omitempty"`
	Unit     string   `json:"unit,omitempty"`
	Note     string   `json:"note,omitempty"`
	Columns  []string `json:"columns"`
	Rows     []Row    `json:"rows"`
}

// Text returns the cell under a column as written, "" when it is empty or there is no such column.
func (r Row) Text(column string) string {
	if i := slices.Index(r.columns, column); i >= 0 {
		return r.Cells[i].Text
	}
	return ""
}

// Number returns the cell under a column as a number; ok is false when it is empty or no number.
func (r Row) Number(column string) (value float64, ok bool) {
	v, err := strconv.ParseFloat(r.Text(column), 64)
	return v, err == nil
}

// Numbers returns a cell that lists numbers separated by blanks; nil when it is empty.
func (r Row) Numbers(column string) []float64 {
	var list []float64
	for _, f := range strings.Fields(r.Text(column)) {
		if v, err := strconv.ParseFloat(f, 64); err == nil {
			list = append(list, v)
		}
	}
	return list
}

// number is Number with 0 for an unknown figure.
func (r Row) number(column string) float64 {
	v, _ := r.Number(column)
	return v
}

// from returns the row's provenance for the named columns, as weak as the weakest of them; without
// columns that of the row.
func (r Row) from(columns ...string) Provenance {
	p := r.Provenance
	p.Sources = slices.Clone(p.Sources)
	var worst Confidence
	for _, c := range columns {
		i := slices.Index(r.columns, c)
		switch {
		case i < 0 || r.Cells[i].Text == "":
		case r.Cells[i].Confidence != "":
			worst = weaker(worst, r.Cells[i].Confidence)
		default:
			worst = weaker(worst, r.Confidence)
		}
	}
	if worst != "" {
		p.Confidence = worst
	}
	return p
}

// MarshalJSON writes the figures under their column names, in the table's order, then the
// sources, the confidence and the note. A figure better or less well known than its row is
// listed under "confidence_of". Numbers print as numbers, unknown figures as null.
func (r Row) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	put := func(key string, value any) error {
		if b.Len() > 1 {
			b.WriteByte(',')
		}
		k, err := json.Marshal(key)
		if err != nil {
			return fmt.Errorf("column %q: %w", key, err)
		}
		v, err := json.Marshal(value)
		if err != nil {
			return fmt.Errorf("column %q: %w", key, err)
		}
		b.Write(k)
		b.WriteByte(':')
		b.Write(v)
		return nil
	}
	other := map[string]Confidence{}
	for i, column := range r.columns {
		key := strings.ReplaceAll(column, " ", "_")
		var value any
		if v, ok := r.Number(column); ok {
			value = v
		} else if list := r.Numbers(column); len(list) > 1 {
			value = list
		} else if r.Cells[i].Text != "" {
			value = r.Cells[i].Text
		}
		if r.Cells[i].Confidence != "" {
			other[key] = r.Cells[i].Confidence
		}
		if err := put(key, value); err != nil {
			return nil, err
		}
	}
	if err := put("sources", r.Sources); err != nil {
		return nil, err
	}
	if err := put("confidence", r.Confidence); err != nil {
		return nil, err
	}
	if len(other) > 0 {
		if err := put("confidence_of", other); err != nil {
			return nil, err
		}
	}
	if r.Note != "" {
		if err := put("note", r.Note); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// catalogue is everything the table files hold.
type catalogue struct {
	tables  []Table
	byName  map[string]int
	sources []Source
}

// loaded reads the embedded tables at first use, so that a run which asks for nothing pays
// nothing. They are part of the program: a mistake in them is a mistake of the build, which the
// package's test finds, hence the panic.
var loaded = sync.OnceValue(func() *catalogue {
	c := &catalogue{byName: map[string]int{}}
	text, err := tableFiles.ReadFile("tables/sources.txt")
	if err != nil {
		panic(fmt.Sprintf("hardware: %v", err))
	}
	if c.sources, err = parseSources(string(text)); err != nil {
		panic(fmt.Sprintf("hardware: sources.txt: %v", err))
	}
	for _, name := range tableOrder {
		text, err := tableFiles.ReadFile("tables/" + name + ".txt")
		if err != nil {
			panic(fmt.Sprintf("hardware: %v", err))
		}
		tables, err := parseTables(string(text))
		if err != nil {
			panic(fmt.Sprintf("hardware: %s.txt: %v", name, err))
		}
		for _, t := range tables {
			c.byName[t.Name] = len(c.tables)
			c.tables = append(c.tables, t)
		}
	}
	return c
})

// Tables returns all tables in a fixed order.
func Tables() []Table {
	list := make([]Table, 0, len(loaded().tables))
	for _, t := range loaded().tables {
		list = append(list, t.only(func(Row) bool { return true }))
	}
	return list
}

// TableOf returns a table by name: "fit", "print-rule", "iso2768-linear", …; ok is false for an unknown
// one.
func TableOf(name string) (t Table, ok bool) {
	t = table(name)
	return t.only(func(Row) bool { return true }), t.Name != ""
}

// Sources returns all sources, sorted by id.
func Sources() []Source { return slices.Clone(loaded().sources) }

// SourceOf returns the source with the given id; ok is false for an unknown one.
func SourceOf(id string) (source Source, ok bool) {
	for _, s := range loaded().sources {
		if s.ID == id {
			return s, true
		}
	}
	return Source{}, false
}

// table returns a table by name, an empty one if there is none.
func table(name string) Table {
	c := loaded()
	if i, ok := c.byName[name]; ok {
		return c.tables[i]
	}
	return Table{}
}

// only returns a copy of the table with the rows that keep accepts.
func (t Table) only(keep func(Row) bool) Table {
	rows := make([]Row, 0, len(t.Rows))
	for _, r := range t.Rows {
		if keep(r) {
			r.Cells = slices.Clone(r.Cells)
			r.Sources = slices.Clone(r.Sources)
			rows = append(rows, r)
		}
	}
	t.Rows = rows
	t.Columns = slices.Clone(t.Columns)
	return t
}

// find returns the first row whose cell under column is text.
func (t Table) find(column, text string) (Row, bool) {
	i := slices.Index(t.Columns, column)
	if i < 0 {
		return Row{}, false
	}
	for _, r := range t.Rows {
		if r.Cells[i].Text == text {
			return r, true
		}
	}
	return Row{}, false
}

// parseSources reads lines "ID | kind | reference".
func parseSources(text string) ([]Source, error) {
	var list []Source
	for n, line := range strings.Split(text, "\n") {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		parts := strings.SplitN(line, " | ", 3)
		if len(parts) != 3 {
			return nil, fmt.Errorf("line %d: expected id | kind | reference", n+1)
		}
		list = append(list, Source{ID: parts[0], Kind: parts[1], Ref: parts[2]})
	}
	return list, nil
}

// parseTables reads the table format: "[name]", then "key: text" lines, then a line of column
// names and one line a row, cells separated by "|", ending in conf, sources, note. "-" is an
// unknown figure; "3.5 ~M" a figure of another confidence than its row. "#" begins a comment line.
func parseTables(text string) ([]Table, error) {
	var list []Table
	var t *Table
	var columns []string // with conf, sources, note
	for n, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		at := func(format string, args ...any) error {
			return fmt.Errorf("line %d: %s", n+1, fmt.Sprintf(format, args...))
		}
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case strings.HasPrefix(line, "["):
			list = append(list, Table{Name: strings.Trim(line, "[]")})
			t, columns = &list[len(list)-1], nil
		case t == nil:
			return nil, at("a [name] must come first")
		case !strings.Contains(line, "|"):
			key, value, _ := strings.Cut(line, ": ")
			switch key {
			case "title":
				t.Title = value
			case "standard":
				t.Standard = value
			case "unit":
				t.Unit = value
			case "note":
				t.Note = value
			default:
				return nil, at("unknown key %q", key)
			}
		default:
			cells := strings.Split(line, "|")
			for i := range cells {
				cells[i] = strings.TrimSpace(cells[i])
			}
			if columns == nil {
				k := len(cells) - 3
				if k < 1 || !slices.Equal(cells[k:], []string{"conf", "sources", "note"}) {
					return nil, at("the columns must end in conf, sources, note")
				}
				columns, t.Columns = cells, cells[:k:k]
				continue
			}
			if len(cells) != len(columns) {
				return nil, at("%d cells for %d columns", len(cells), len(columns))
			}
			k := len(t.Columns)
			r := Row{columns: t.Columns, Provenance: Provenance{
				Table: t.Name, Confidence: Confidence(cells[k]), Sources: strings.Fields(cells[k+1]), Note: cells[k+2],
			}}
			for _, cell := range cells[:k] {
				text, conf, _ := strings.Cut(cell, " ~")
				if text == "-" {
					text = ""
				}
				r.Cells = append(r.Cells, Cell{Text: text, Confidence: Confidence(conf)})
			}
			t.Rows = append(t.Rows, r)
		}
	}
	return list, nil
}
