package stock

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// File is the shelf of a series, beside its series.yaml.
const File = "stock.csv"

// Limits on what is read.
const (
	MaxBytes = 4 << 20
	maxLines = 20_000
)

// Heads are the columns of the file, in the order in which they are written. A file may have them in another
// order and may leave out those that it does not use.
var Heads = []string{"kind", "item", "label", "amount", "pack", "tare", "price", "note"}

// LineError is a line of the file that says nothing that can be understood.
type LineError struct {
	Line int // from 1
	Text string
	Hint string
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Text) }

// Read reads a shelf as Write writes it, or as a spreadsheet saves it: with commas, semicolons or tabs. Errors:
// *LineError.
func Read(data []byte) (*Shelf, error) {
	if len(data) > MaxBytes {
		return nil, &LineError{1, fmt.Sprintf("the file holds %d bytes, the limit is %d", len(data), MaxBytes), "is this the stock of a series?"}
	}
	rows, at, err := table(data, Heads, []string{"kind", "item", "amount"})
	if err != nil {
		return nil, err
	}
	s := &Shelf{}
	seen := map[string]int{}
	for i, r := range rows {
		bad := func(hint, format string, a ...any) error {
			return &LineError{at[i], fmt.Sprintf(format, a...), hint}
		}
		l := Line{Kind: Kind(strings.ToLower(r["kind"])), Item: r["item"], Label: r["label"], Note: r["note"]}
		if l.Kind == Fastener {
			l.Item = Canonical(l.Item)
		}
		for _, f := range []struct {
			name string
			to   *float64
		}{{"amount", &l.Amount}, {"pack", &l.Pack}, {"tare", &l.Tare}, {"price", &l.Price}} {
			text := r[f.name]
			if text == "" && f.name != "amount" {
				continue
			}
			if f.name != "price" {
				text = strings.TrimSpace(strings.TrimSuffix(text, "g"))
			}
			v, err := unit.ParseNumber(text)
			if err != nil {
				return nil, bad("write digits and a decimal point: 622 or 37.5", "%s: %v", f.name, err)
			}
			*f.to = v
		}
		if err := l.check(); err != nil {
			var p *Problem
			errors.As(err, &p)
			return nil, bad(p.Hint, "%s", p.Text)
		}
		key := strings.ToLower(string(l.Kind) + "\x00" + l.Item + "\x00" + l.Label)
		if l.Kind == Spool {
			key = "spool\x00" + l.Label
		}
		if first, ok := seen[key]; ok {
			return nil, bad("make one line of the two, or give a spool another label", "%s stands in line %d already", strings.TrimSpace(l.Item+" "+l.Label), first)
		}
		seen[key] = at[i]
		s.Lines = append(s.Lines, l)
	}
	return s, nil
}

// check says what is wrong with a line.
func (l Line) check() error {
	if !slices.Contains(Kinds, l.Kind) {
		return problem("write spool, fastener, bought or build", "kind: expected spool, fastener, bought or build, found %q", string(l.Kind))
	}
	for _, f := range []struct{ name, text string }{{"item", l.Item}, {"label", l.Label}, {"note", l.Note}} {
		switch {
		case len(f.text) > maxField:
			return problem("shorten it", "%s has %d bytes; keep it under %d", f.name, len(f.text), maxField)
		case !utf8.ValidString(f.text) || strings.ContainsFunc(f.text, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\ufeff' }):
			return problem("write plain text in one line", "%s: %q is not plain text", f.name, f.text)
		}
	}
	if l.Item == "" {
		return problem("write the filament's name, the designation, or what it is", "item is empty")
	}
	if l.Kind == Spool && l.Label == "" {
		return problem("write on each spool what tells it from the others, and the same here: clay, clay-2", "a spool without a label")
	}
	most := float64(MostPieces)
	if l.Kind == Spool {
		most = MostGrams
	}
	for _, f := range []struct {
		name    string
		x, most float64
	}{{"amount", l.Amount, most}, {"pack", l.Pack, most}, {"tare", l.Tare, MostGrams}, {"price", l.Price, MostPrice}} {
		if math.IsNaN(f.x) || f.x < 0 || f.x > f.most {
			return problem("check the figure and its unit", "%s: expected 0 to %s, found %s", f.name, unit.Number(f.most), unit.Number(f.x))
		}
	}
	return nil
}

// table reads a CSV with a head: one map a row, the line that each row begins in. A first line `sep=;` as
// spreadsheets write it is passed over.
func table(data []byte, heads, needed []string) (rows []map[string]string, at []int, err error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	lines := 0
	first, rest, _ := bytes.Cut(data, []byte("\n"))
	if sep := strings.TrimSpace(string(first)); strings.HasPrefix(sep, "sep=") && len(sep) == 5 {
		data, lines = rest, 1
		first, _, _ = bytes.Cut(data, []byte("\n"))
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	for _, c := range ",;\t" {
		if bytes.Count(first, []byte(string(c))) > bytes.Count(first, []byte(string(r.Comma))) {
			r.Comma = c
		}
	}
	var columns []string
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			var p *csv.ParseError
			line := 1
			if errors.As(err, &p) {
				line, err = p.Line, p.Err
			}
			return nil, nil, &LineError{lines + line, "no line of a CSV file: " + err.Error(), "put a text with quotes or separators in it between double quotes, and double those inside"}
		}
		n, _ := r.FieldPos(0)
		n += lines
		for i := range record {
			record[i] = unguard(strings.TrimSpace(record[i]))
		}
		if columns == nil {
			for _, h := range record {
				h = strings.ToLower(h)
				if !slices.Contains(heads, h) {
					hint := "the columns are " + strings.Join(heads, ",")
					if near := finding.Nearest(h, heads); near != "" {
						hint = "did you mean " + near + "?"
					}
					return nil, nil, &LineError{n, fmt.Sprintf("no column is called %q", h), hint}
				}
				if slices.Contains(columns, h) {
					return nil, nil, &LineError{n, fmt.Sprintf("two columns are called %q", h), "take one of them out"}
				}
				columns = append(columns, h)
			}
			for _, h := range needed {
				if !slices.Contains(columns, h) {
					return nil, nil, &LineError{n, fmt.Sprintf("the column %q is missing", h), "the first line names the columns: " + strings.Join(heads, ",")}
				}
			}
			continue
		}
		if len(record) == 1 && record[0] == "" {
			continue
		}
		if len(record) > len(columns) {
			return nil, nil, &LineError{n, fmt.Sprintf("%d fields under %d columns", len(record), len(columns)), "put a text with a separator in it between double quotes"}
		}
		if len(rows) == maxLines {
			return nil, nil, &LineError{n, fmt.Sprintf("more than %d lines", maxLines), "is this the right file?"}
		}
		row := map[string]string{}
		for i, v := range record {
			row[columns[i]] = v
		}
		rows, at = append(rows, row), append(at, n)
	}
	return rows, at, nil
}

// Write writes the shelf as CSV: commas, line feeds, the columns of Heads. Texts that a spreadsheet would take
// for a formula get an apostrophe in front, which Read takes away again (CSV injection, OWASP).
func (s *Shelf) Write(w io.Writer) error {
	out := csv.NewWriter(w)
	if err := out.Write(Heads); err != nil {
		return err
	}
	number := func(x float64) string {
		if x == 0 {
			return ""
		}
		return unit.Number(x)
	}
	for _, l := range s.Lines {
		if err := l.check(); err != nil {
			return err
		}
		if err := out.Write([]string{string(l.Kind), guard(l.Item), guard(l.Label), unit.Number(l.Amount), number(l.Pack), number(l.Tare), number(l.Price), guard(l.Note)}); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// Bytes is what Write writes.
func (s *Shelf) Bytes() ([]byte, error) {
	var b bytes.Buffer
	err := s.Write(&b)
	return b.Bytes(), err
}

// formula are the first letters by which spreadsheets know a formula or a control sequence (OWASP, CSV
// Injection); the apostrophe itself is among them so that one that was typed is not taken away.
const formula = "=+-@\t\r'"

func guard(text string) string {
	if text != "" && strings.ContainsRune(formula, rune(text[0])) {
		return "'" + text
	}
	return text
}

func unguard(text string) string {
	if len(text) > 1 && text[0] == '\'' && strings.ContainsRune(formula, rune(text[1])) {
		return text[1:]
	}
	return text
}

func grams(x float64) string { return unit.Number(tidy(x)) + " g" }

func amount(l Line) string { return unit.Number(l.Amount) + " " + l.Unit() }

// tidy rounds to a hundredth, so that sums of decimals print as they were typed.
func tidy(x float64) float64 { return math.Round(x*100) / 100 }

// WriteOrder writes rows of texts as CSV for a spreadsheet, guarded as the shelf is.
func WriteOrder(w io.Writer, rows [][]string) error {
	out := csv.NewWriter(w)
	for _, r := range rows {
		line := make([]string, len(r))
		for i, c := range r {
			line[i] = guard(c)
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
