package adopt

import (
	"encoding/csv"
	"html"
	"io"
	"strconv"
	"strings"
)

// Limits of a table.
const (
	maxRows  = 5_000
	maxCells = 60
)

// table is rows under a head, from whatever form it was written in.
type table struct {
	file    string
	line    int    // of the head
	heading string // the nearest heading above it, lower case
	head    []string
	rows    []row
}

// row is one line of a table.
type row struct {
	line  int
	cells []string
}

func (r row) cell(i int) string {
	if i < 0 || i >= len(r.cells) {
		return ""
	}
	return r.cells[i]
}

// pipeRule is the line under the head of a Markdown table (GitHub Flavored Markdown, section 4.10).
var pipeRule = lazily(`^\s*\|?\s*:?-+:?\s*(?:\|\s*:?-+:?\s*)*\|?\s*$`)

// pipeTable reads a Markdown table that begins at line i (from 0); next is the line behind it, i when there is
// none.
func pipeTable(lines []string, i int) (head []string, rows []row, next int) {
	if i+1 >= len(lines) || !strings.Contains(lines[i], "|") || !pipeRule.MatchString(lines[i+1]) || !strings.Contains(lines[i+1], "-") {
		return nil, nil, i
	}
	if !strings.Contains(lines[i+1], "|") && strings.Contains(strings.Trim(lines[i], "| "), "|") {
		return nil, nil, i
	}
	head = pipeCells(lines[i])
	next = i + 2
	for next < len(lines) && strings.Contains(lines[next], "|") && strings.TrimSpace(lines[next]) != "" {
		if len(rows) < maxRows {
			rows = append(rows, row{next + 1, pipeCells(lines[next])})
		}
		next++
	}
	return head, rows, next
}

func pipeCells(line string) []string {
	s := strings.TrimSpace(line)
	s = strings.TrimPrefix(s, "|")
	var out []string
	var b strings.Builder
	code := false
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] == '\\' && i+1 < len(s) && s[i+1] == '|':
			b.WriteByte('|')
			i++
		case s[i] == '`':
			code = !code
			b.WriteByte('`')
		case s[i] == '|' && !code:
			out = append(out, inline(b.String()))
			b.Reset()
		default:
			b.WriteByte(s[i])
		}
		if len(out) >= maxCells {
			return out
		}
	}
	if rest := strings.TrimSpace(b.String()); rest != "" || !strings.HasSuffix(s, "|") {
		out = append(out, inline(rest))
	}
	return out
}

var (
	tagShape  = lazily(`(?is)<!--.*?-->|</?([a-z][a-z0-9]*)\b([^<>]*)>`)
	spanShape = lazily(`(?i)\b(rowspan|colspan)\s*=\s*["']?(\d{1,4})`)
)

// htmlTable reads the HTML table that begins at byte from of the text; end is the byte behind it. A table in a
// cell of a table is read as text.
func htmlTable(body string, from int) (head []string, rows []row, end int) {
	line := 1 + strings.Count(body[:from], "\n")
	depth, at := 0, from
	var cells []string
	var cell strings.Builder
	inCell, headRow := false, false
	rowLine, cols, rowsLeft := line, 1, 0
	type hanging struct {
		text string
		left int
	}
	hang := map[int]hanging{} // cells that reach down from above, by column
	carry := func() {
		for {
			h, ok := hang[len(cells)]
			if !ok || h.left <= 0 || len(cells) >= maxCells {
				return
			}
			hang[len(cells)] = hanging{h.text, h.left - 1}
			cells = append(cells, h.text)
		}
	}
	endCell := func() {
		if !inCell {
			return
		}
		inCell = false
		text := inline(strings.Join(strings.Fields(html.UnescapeString(cell.String())), " "))
		carry()
		for range min(cols, maxCells) {
			if len(cells) >= maxCells {
				break
			}
			if rowsLeft > 0 {
				hang[len(cells)] = hanging{text, rowsLeft}
			}
			cells = append(cells, text)
		}
	}
	endRow := func() {
		endCell()
		if len(cells) > 0 {
			carry()
			if head == nil && (headRow || len(rows) == 0) {
				head = cells
			} else if len(rows) < maxRows {
				rows = append(rows, row{rowLine, cells})
			}
		}
		cells, headRow = nil, false
	}
	for _, m := range tagShape.FindAllStringSubmatchIndex(body[from:], -1) {
		start, stop := from+m[0], from+m[1]
		if inCell {
			cell.WriteString(body[at:start])
		}
		line += strings.Count(body[at:start], "\n")
		at = stop
		if m[2] < 0 {
			line += strings.Count(body[start:stop], "\n")
			continue // a comment
		}
		name, closing := strings.ToLower(body[from+m[2]:from+m[3]]), body[start+1] == '/'
		here := line
		line += strings.Count(body[start:stop], "\n")
		switch {
		case name == "table" && !closing:
			depth++
		case name == "table":
			if depth--; depth <= 0 {
				endRow()
				return head, rows, stop
			}
		case depth != 1:
		case name == "tr" && !closing:
			endRow()
			rowLine = here
		case name == "tr":
			endRow()
		case (name == "td" || name == "th") && !closing:
			endCell()
			if len(cells) == 0 && !inCell {
				rowLine = here
			}
			headRow = headRow || name == "th" && len(cells) == 0
			inCell, cols, rowsLeft = true, 1, 0
			cell.Reset()
			for _, sp := range spanShape.FindAllStringSubmatch(body[from+m[4]:from+m[5]], -1) {
				n, _ := strconv.Atoi(sp[2])
				if strings.EqualFold(sp[1], "colspan") {
					cols = max(1, n)
				} else {
					rowsLeft = max(0, n-1)
				}
			}
		case name == "td" || name == "th":
			endCell()
		case name == "br" || name == "p" || name == "li" || name == "div":
			if inCell {
				cell.WriteString(" ")
			}
		}
	}
	endRow()
	return head, rows, len(body)
}

// separatedTable reads a file of separated values; which sign separates is what gives the most rows the same
// number of cells.
func separatedTable(t *text) (rows []row) {
	body := strings.Join(t.lines, "\n")
	best, most := ',', -1
	for _, sep := range []rune{'\t', ';', ',', '|'} {
		n, score := 0, 0
		for _, r := range separated(body, sep, 40) {
			if len(r.cells) > 1 {
				if n == 0 {
					n = len(r.cells)
				}
				if len(r.cells) == n {
					score += 10 + min(n, 8)
				} else {
					score += 3
				}
			}
		}
		if score > most {
			best, most = sep, score
		}
	}
	return separated(body, best, maxRows)
}

func separated(body string, sep rune, limit int) []row {
	r := csv.NewReader(strings.NewReader(body))
	r.Comma, r.LazyQuotes, r.FieldsPerRecord, r.TrimLeadingSpace = sep, true, -1, sep != '\t'
	var out []row
	for len(out) < limit {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			continue
		}
		line, _ := r.FieldPos(0)
		x := row{line: line}
		filled := false
		for _, c := range cells[:min(len(cells), maxCells)] {
			c = strings.Join(strings.Fields(c), " ")
			filled = filled || c != ""
			x.cells = append(x.cells, inline(c))
		}
		if filled {
			out = append(out, x)
		}
	}
	return out
}
