package check

import (
	"encoding/csv"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/unit"
)

// Limits of a list that is read: a bill of materials of a hundred thousand lines is no bill.
const (
	maxListRows  = 5000
	maxListCells = 60
)

// listRow is one line of a table that somebody wrote: how many, of what.
type listRow struct {
	cells    []string // what it is: every cell but the count
	count    float64
	from, to int // bytes of the line in the text
}

// lists: a table that goes out with the design, or stands in its story, says the counts that the manifest says. A
// builder who finds two lists orders from the wrong one.
func lists(in *Input, r *report) {
	for _, x := range texts(in) {
		if x.file == "" || slices.ContainsFunc(in.Design.Assembly, func(s design.Step) bool { f, ok := s.TextFile(); return ok && string(f) == x.file }) {
			continue // a step's table is about the step
		}
		variants := in.Design.VariantNames()
		for _, e := range in.Design.Extras {
			if string(e.File.V) == x.file && len(e.Only) > 0 {
				variants = slices.DeleteFunc(slices.Clone(variants), func(v string) bool { return !e.Only.Has(v) })
			}
		}
		for _, t := range tablesIn(x) {
			judgeList(in, x, t, variants, r)
		}
	}
}

// stated is what the rows of one table say of one thing.
type stated struct {
	what string
	sum  float64
	row  listRow // the first
	has  map[string]float64
}

func judgeList(in *Input, x prose, rows []listRow, variants []string, r *report) {
	var all []*stated
	for _, row := range rows {
		what, has := thingOf(in.Design, row, variants)
		if what == "" {
			continue
		}
		i := slices.IndexFunc(all, func(s *stated) bool { return s.what == what })
		if i < 0 {
			all = append(all, &stated{what: what, row: row, has: has})
			i = len(all) - 1
		}
		all[i].sum += row.count
	}
	for _, s := range all {
		var held []string
		agrees := false
		for _, v := range variants {
			n, ok := s.has[v]
			if !ok {
				continue
			}
			agrees = agrees || n == s.sum
			if t := unit.Number(n); !slices.Contains(held, t) {
				held = append(held, t)
			}
		}
		if agrees || len(held) == 0 {
			continue
		}
		r.add("list-differs", x.place(s.row.from, s.row.to), "", fmt.Sprintf("%s says %s of %s, the manifest %s", x.name, unit.Number(s.sum), s.what, strings.Join(held, " or ")),
			"mend the table; better, leave it out: the bill of materials is made from the manifest, as csv, xlsx, md and html")
	}
}

// insertWord, nutWord and washerWord tell what of a thread a row means, in the words of English and German lists.
var (
	insertWord = regexp.MustCompile(`(?i)\binserts?\b|einschmelz|gewindeeinsatz|gewindeeinsätze`)
	nutWord    = regexp.MustCompile(`(?i)\b(?:lock)?nuts?\b|mutter`)
	washerWord = regexp.MustCompile(`(?i)\bwashers?\b|scheibe`)
	threadOnly = regexp.MustCompile(`\b[Mm](\d+(?:[.,]\d+)?)\b`)
)

// thingOf finds what a row counts, and how many of it each variant has: screws of one size, inserts or nuts of one
// thread, a part or bought part by its name or title. "" for what cannot be told for sure.
func thingOf(d *design.Design, row listRow, variants []string) (what string, has map[string]float64) {
	text := strings.Join(row.cells, " | ")
	has = map[string]float64{}
	sum := func(match func(it design.Item) bool) bool {
		any := false
		for _, v := range variants {
			items, _ := d.Tally(v)
			for _, it := range items {
				if match(it) {
					has[v] += it.Listed
					any = true
				}
			}
		}
		return any
	}
	if sizes := sizesIn(text); len(sizes) == 1 && !nutWord.MatchString(text) && !insertWord.MatchString(text) && !washerWord.MatchString(text) {
		ok := false
		for _, v := range variants { // a fastener may have another size in each variant
			items, _ := d.Tally(v)
			for _, it := range items {
				f, known := d.Fastener(it.Base)
				if it.Kind != design.FastenerItem || it.Name != it.Base || !known {
					continue
				}
				written, _ := f.Designation(v)
				if s := sizesIn(string(written.V)); len(s) == 1 && s[0] == sizes[0] {
					has[v] += it.Listed
					ok = true
				}
			}
		}
		if ok {
			return sizes[0], has
		}
		return "", nil
	}
	if m := threadOnly.FindAllStringSubmatch(text, -1); len(m) == 1 {
		thread := "M" + strings.ReplaceAll(m[0][1], ",", ".")
		for _, k := range []struct {
			word   *regexp.Regexp
			suffix string
			name   string
		}{{insertWord, ".insert", "inserts"}, {nutWord, ".nut", "nuts"}} {
			if !k.word.MatchString(text) {
				continue
			}
			if sum(func(it design.Item) bool { return strings.HasSuffix(it.Name, k.suffix) && threadOf(d, it) == thread }) {
				return thread + " " + k.name, has
			}
			return "", nil
		}
	}
	for _, c := range row.cells {
		name := design.Kebab(strings.TrimSuffix(path.Base(strings.TrimSpace(c)), path.Ext(c)))
		if name == "" {
			continue
		}
		if sum(func(it design.Item) bool {
			return listName(d, it) == name || it.Base == name && it.Kind != design.FastenerItem
		}) {
			return name, has
		}
	}
	return "", nil
}

// listName is the title of a part as a name.
func listName(d *design.Design, it design.Item) string {
	if p, ok := d.Part(it.Base); ok && it.Kind == design.PartItem && p.Title.Set() {
		return design.Kebab(string(p.Title.V))
	}
	return ""
}

// threadOf is the thread of an insert, or of a nut's screw: "M3".
func threadOf(d *design.Design, it design.Item) string {
	f, ok := d.Fastener(it.Base)
	if !ok {
		return ""
	}
	if h := f.Into.Held; strings.HasSuffix(it.Name, ".insert") && h != nil && h.Insert != nil {
		return string(h.Insert.Thread.V)
	}
	for _, v := range f.Screw.Values() {
		if m := threadShape.FindString(string(v.V)); m != "" {
			return m
		}
	}
	return ""
}

var threadShape = regexp.MustCompile(`^M\d+(?:\.\d+)?`)

// countHeads are the words by which a column of counts is known, in lower case: English, then German, French, Spanish,
// Dutch.
var countHeads = []string{"qty", "qty.", "quantity", "count", "copies", "pcs", "pieces", "how many", "number", "amount", "needed", "required",
	"anzahl", "menge", "stück", "stk", "stk.", "quantité", "qté", "nombre", "cantidad", "aantal"}

// tablesIn finds the tables of a text that have a column of counts.
func tablesIn(x prose) [][]listRow {
	switch strings.ToLower(path.Ext(x.file)) {
	case ".csv", ".tsv":
		if t := csvList(x.body); len(t) > 0 {
			return [][]listRow{t}
		}
		return nil
	}
	return pipeLists(withoutCode(x.body))
}

// pipeLists reads Markdown tables (GitHub Flavored Markdown, section 4.10).
func pipeLists(body string) [][]listRow {
	var out [][]listRow
	var rows []listRow
	var head []string
	column, ruled := -1, false
	flush := func() {
		if len(rows) > 0 {
			out = append(out, rows)
		}
		rows, head, column, ruled = nil, nil, -1, false
	}
	start := 0
	for line := range strings.Lines(body) {
		from := start
		start += len(line)
		text := strings.TrimSpace(line)
		if !strings.Contains(text, "|") {
			flush()
			continue
		}
		cells := strings.Split(strings.Trim(text, "|"), "|")
		for i := range cells {
			cells[i] = strings.Trim(strings.TrimSpace(cells[i]), "*_`")
		}
		switch {
		case head == nil:
			head, column = cells, countColumn(cells)
		case !ruled:
			ruled = strings.Trim(text, "|-: \t") == ""
			if !ruled {
				head, column = cells, countColumn(cells)
			}
		case column >= 0:
			if r, ok := listRowOf(cells, column, from, from+len(strings.TrimRight(line, "\r\n"))); ok && len(rows) < maxListRows {
				rows = append(rows, r)
			}
		}
	}
	flush()
	return out
}

// csvList reads a table with commas, semicolons or tabs between its cells; quotes as in RFC 4180. A body that is none
// gives nothing.
func csvList(body string) []listRow {
	first, _, _ := strings.Cut(body, "\n")
	comma := ','
	for _, c := range ";\t" {
		if strings.Count(first, string(c)) > strings.Count(first, string(comma)) {
			comma = c
		}
	}
	read := csv.NewReader(strings.NewReader(body))
	read.Comma, read.FieldsPerRecord, read.LazyQuotes = comma, -1, true
	column := -1
	var out []listRow
	for n := 0; n < maxListRows; n++ {
		before := int(read.InputOffset())
		cells, err := read.Read()
		if err != nil {
			break
		}
		if column < 0 {
			if column = countColumn(cells); column < 0 && n > 20 {
				break
			}
			continue
		}
		end := int(read.InputOffset())
		from := before + len(body[before:end]) - len(strings.TrimLeft(body[before:end], "\r\n"))
		to := from + strings.IndexByte(body[from:end]+"\n", '\n')
		if r, ok := listRowOf(cells, column, from, to); ok {
			out = append(out, r)
		}
	}
	return out
}

func countColumn(heads []string) int {
	if len(heads) > maxListCells {
		return -1
	}
	return slices.IndexFunc(heads, func(h string) bool { return slices.Contains(countHeads, strings.ToLower(strings.TrimSpace(h))) })
}

// countShape is a count as people write it: "4", "4x", "4 ×", "4 pcs".
var countShape = regexp.MustCompile(`^(\d{1,6}(?:[.,]\d{1,3})?)\s*(?:x|×|pcs\.?|pieces|st\.?|stk\.?|stück)?$`)

func listRowOf(cells []string, column, from, to int) (listRow, bool) {
	if column >= len(cells) || len(cells) > maxListCells {
		return listRow{}, false
	}
	m := countShape.FindStringSubmatch(strings.ToLower(strings.TrimSpace(cells[column])))
	if m == nil {
		return listRow{}, false
	}
	n, err := strconv.ParseFloat(strings.ReplaceAll(m[1], ",", "."), 64)
	if err != nil {
		return listRow{}, false
	}
	return listRow{cells: slices.Delete(slices.Clone(cells), column, column+1), count: n, from: from, to: to}, true
}
