package adopt

import (
	"strconv"
	"strings"
	"unicode"
)

// block is one piece of a text: a heading, an item of a list, a paragraph, a table.
type block struct {
	kind   blockKind
	line   int // from 1
	level  int // of a heading, from 1; indent of an item, in columns
	number int // of a numbered item; 0 for a bullet
	text   string
	file   string // of a picture
	table  *table
}

type blockKind int

const (
	heading blockKind = iota
	item
	paragraph
	tableBlock
	picture
)

var (
	hashHeading  = lazily(`^\s{0,3}(#{1,6})\s+(.*?)\s*#*\s*$`)
	bulletItem   = lazily(`^(\s*)[-*+•·–]\s+(?:\[[ xX]\]\s+)?(.*)$`)
	numberItem   = lazily(`^(\s*)(?:\*\*)?(\d{1,3})[.)]\s*(?:\*\*)?\s+(.*)$`)
	stepItem     = lazily(`(?i)^(\s*)(?:\*\*|__)?step\s+(\d{1,3})(?:\*\*|__)?\s*[:.)–—-]\s*(.*)$`)
	underline    = lazily(`^\s*(=+|-{3,}|~{3,}|\*{3,})\s*$`)
	fence        = lazily("^\\s*(```|~~~)")
	pictureOnly  = lazily(`^\s*!\[([^\]]*)\]\(<?([^)\s>]+)>?(?:\s+"[^"]*")?\)\s*$`)
	numberedHead = lazily(`(?i)^(?:step\s+)?(\d{1,3})\s*[.:)–—-]\s*(.*)$`)
)

// blocksOf takes a text apart.
func blocksOf(t *text) []block {
	lines := t.lines
	if strings.HasSuffix(strings.ToLower(t.file), ".html") || strings.HasSuffix(strings.ToLower(t.file), ".htm") || hasHTMLTable(lines) {
		var found []block
		lines, found = takeHTML(t)
		return merge(found, plainBlocks(t, lines))
	}
	return plainBlocks(t, lines)
}

func hasHTMLTable(lines []string) bool {
	for _, l := range lines {
		if strings.Contains(strings.ToLower(l), "<table") {
			return true
		}
	}
	return false
}

// merge sorts tables taken out of a text back between its blocks.
func merge(tables, rest []block) []block {
	var out []block
	last := ""
	for _, b := range rest {
		for len(tables) > 0 && tables[0].line <= b.line {
			tables[0].table.heading = last
			out = append(out, tables[0])
			tables = tables[1:]
		}
		if b.kind == heading {
			last = strings.ToLower(b.text)
		}
		out = append(out, b)
	}
	for _, b := range tables {
		b.table.heading = last
		out = append(out, b)
	}
	return out
}

var htmlMarks = []struct {
	shape *pattern
	with  string
}{
	{lazily(`(?i)<h([1-6])\b[^>]*>`), "\x01$1 "}, {lazily(`(?i)<li\b[^>]*>`), "- "}, {lazily(`(?i)</?(b|strong|i|em|u|code|span|a|sup|sub|p|ul|ol|div|h[1-6]|li|body|html|head|section|article|main|details|summary|center|img|font|hr|br|title|meta|link)\b[^>]*>`), ""},
}

// takeHTML takes the tables out of a text and turns the few other marks that people mix in into plain lines; the
// lines keep their numbers.
func takeHTML(t *text) (lines []string, tables []block) {
	body := strings.Join(t.lines, "\n")
	lower := strings.ToLower(body) // of the same length for what is searched: tags are ASCII
	if len(lower) != len(body) {
		lower = body
	}
	var b strings.Builder
	at := 0
	for len(tables) < 200 {
		i := strings.Index(lower[at:], "<table")
		if i < 0 {
			break
		}
		start := at + i
		head, rows, end := htmlTable(body, start)
		line := 1 + strings.Count(body[:start], "\n")
		if len(head) > 0 {
			tables = append(tables, block{kind: tableBlock, line: line, table: &table{file: t.file, line: line, head: head, rows: rows}})
		}
		b.WriteString(body[at:start])
		b.WriteString(strings.Repeat("\n", strings.Count(body[start:end], "\n")))
		at = end
	}
	b.WriteString(body[at:])
	for _, l := range strings.Split(b.String(), "\n") {
		if strings.ContainsRune(l, '<') {
			for _, m := range htmlMarks {
				l = m.shape.ReplaceAllString(l, m.with)
			}
			if i := strings.IndexByte(l, 1); i >= 0 && i+1 < len(l) {
				l = strings.Repeat("#", int(l[i+1]-'0')) + l[i+2:]
			}
		}
		lines = append(lines, l)
	}
	return lines, tables
}

// plainBlocks takes Markdown and plain text apart. What stands in a fence is left out: it is code.
func plainBlocks(t *text, lines []string) []block {
	var out []block
	last, open := "", ""
	numbered := map[int]bool{}
	add := func(b block) {
		if b.kind == heading {
			last = strings.ToLower(b.text)
		}
		out = append(out, b)
	}
	for i := 0; i < len(lines); i++ {
		l := lines[i]
		if m := fence.FindStringSubmatch(l); m != nil {
			if open == "" {
				open = m[1]
			} else if open == m[1] {
				open = ""
			}
			continue
		}
		if open != "" || strings.TrimSpace(l) == "" || underline.MatchString(l) && i > 0 && strings.TrimSpace(lines[i-1]) == "" {
			continue
		}
		if head, rows, next := pipeTable(lines, i); next > i {
			add(block{kind: tableBlock, line: i + 1, table: &table{file: t.file, line: i + 1, heading: last, head: head, rows: rows}})
			i = next - 1
			continue
		}
		if m := hashHeading.FindStringSubmatch(l); m != nil {
			add(block{kind: heading, line: i + 1, level: len(m[1]), text: inline(m[2])})
			continue
		}
		if i+1 < len(lines) && underline.MatchString(lines[i+1]) && len(strings.TrimSpace(l)) < 100 && !bulletItem.MatchString(l) && (i == 0 || strings.TrimSpace(lines[i-1]) == "" || underline.MatchString(lines[i-1])) {
			level := 2
			if strings.Contains(lines[i+1], "=") {
				level = 1
			}
			add(block{kind: heading, line: i + 1, level: level, text: inline(l)})
			i++
			continue
		}
		if shout(l) && (i == 0 || strings.TrimSpace(lines[i-1]) == "") {
			add(block{kind: heading, line: i + 1, level: 2, text: strings.TrimRight(strings.TrimSpace(l), ":")})
			continue
		}
		b, ok := itemOf(l)
		if !ok && labelled(lines, i) {
			add(block{kind: heading, line: i + 1, level: 3, text: inline(strings.TrimRight(strings.TrimSpace(l), ":"))})
			continue
		}
		if ok && b.number > 0 && !numberedStart(numbered, b) {
			ok = false // "12. of March": a sentence that begins with a number
		}
		if !ok {
			if m := pictureOnly.FindStringSubmatch(l); m != nil {
				add(block{kind: picture, line: i + 1, text: m[1], file: m[2]})
				continue
			}
			b = block{kind: paragraph, text: strings.TrimSpace(l)}
		}
		b.line = i + 1
		// what follows without a blank line, and indented lines after one, belong to it
		indent := indentOf(l)
		for i+1 < len(lines) {
			n := lines[i+1]
			if strings.TrimSpace(n) == "" {
				if b.kind != item || i+2 >= len(lines) || indentOf(lines[i+2]) < indent+2 || strings.TrimSpace(lines[i+2]) == "" {
					break
				}
				if _, isItem := itemOf(lines[i+2]); isItem || fence.MatchString(lines[i+2]) || pictureOnly.MatchString(lines[i+2]) {
					break
				}
				i++
				continue
			}
			if _, isItem := itemOf(n); isItem || hashHeading.MatchString(n) || fence.MatchString(n) || pictureOnly.MatchString(n) || underline.MatchString(n) {
				break
			}
			if _, _, next := pipeTable(lines, i+1); next > i+1 {
				break
			}
			if i+2 < len(lines) && underline.MatchString(lines[i+2]) && b.kind == paragraph {
				break
			}
			if b.kind == paragraph && (tabular(l) || tabular(n)) {
				break // lines set in columns are one entry each
			}
			if b.kind == paragraph && meshName.MatchString(l) && meshName.MatchString(n) && len(n) < 120 {
				break // a list of files without bullets
			}
			if b.kind == paragraph && startsCount(l) && startsCount(n) {
				break // a list without bullets
			}
			b.text += " " + strings.TrimSpace(n)
			i++
		}
		b.text = inline(b.text)
		add(b)
	}
	return out
}

// itemOf reads the first line of a list's item.
func itemOf(l string) (block, bool) {
	if m := stepItem.FindStringSubmatch(l); m != nil {
		n, _ := strconv.Atoi(m[2])
		return block{kind: item, level: len(m[1]), number: n, text: m[3]}, true
	}
	if m := numberItem.FindStringSubmatch(l); m != nil {
		n, _ := strconv.Atoi(m[2])
		return block{kind: item, level: len(m[1]), number: n, text: m[3]}, true
	}
	if m := bulletItem.FindStringSubmatch(l); m != nil {
		return block{kind: item, level: len(m[1]), text: m[2]}, true
	}
	return block{}, false
}

// numberedStart tells whether a number continues a list or begins one: the first of a list is 0 or 1, and
// others follow one that was seen. Markdown lets every item be 1.
func numberedStart(seen map[int]bool, b block) bool {
	if b.number <= 1 || seen[b.number-1] || seen[b.number] {
		seen[b.number] = true
		return true
	}
	return false
}

func indentOf(l string) int {
	n := 0
	for _, r := range l {
		switch r {
		case ' ':
			n++
		case '\t':
			n += 4
		default:
			return n
		}
	}
	return n
}

// shout is a heading in capitals, as plain texts have them: "PARTS LIST".
func shout(l string) bool {
	s := strings.TrimSpace(l)
	letters := 0
	for _, r := range s {
		if unicode.IsLower(r) || unicode.IsDigit(r) {
			return false
		}
		if unicode.IsUpper(r) {
			letters++
		}
	}
	return letters >= 4 && len(s) <= 60
}

// labelled is a line such as "Hardware:" or "Print settings:" before a list or a paragraph.
func labelled(lines []string, i int) bool {
	s := strings.TrimSpace(lines[i])
	if i > 0 && i+1 < len(lines) && strings.TrimSpace(lines[i-1]) == "" && len(s) >= 4 && len(s) <= 40 && !strings.ContainsAny(s, ".!?,;|:") && !startsCount(s) && !meshName.MatchString(s) {
		if _, ok := itemOf(lines[i+1]); ok {
			return true // "how to build" right above its list
		}
	}
	if !strings.HasSuffix(strings.TrimRight(s, "*_ "), ":") || len(s) > 60 || strings.Count(s, " ") > 7 || strings.Contains(s, ". ") {
		return false
	}
	return (i == 0 || strings.TrimSpace(lines[i-1]) == "") && i+1 < len(lines)
}

var columnGap = lazily(`\S(?:\t+|\s{3,})\S`)

// tabular is a line whose words are set in columns.
func tabular(l string) bool { return columnGap.MatchString(strings.TrimSpace(l)) }

func startsCount(l string) bool {
	_, _, ok := countAhead(l)
	return ok
}
