package sheet

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// TextWidth is how wide the plain text is set: the classic terminal's 80 less a margin.
const TextWidth = 78

// Text prints the sheet as plain text: everything but the pictures, whose alternative texts stand in their
// place, and the drawings.
func (s *Sheet) Text(w io.Writer) error {
	p := plainPrinter{t: tongueOf(s.Language)}
	title := join(": ", s.Title, s.VariantTitle)
	p.title(title, '=')
	p.para("", s.Summary)
	p.blank()
	p.blocks("", s.Head)
	for _, x := range s.Sections {
		p.blank()
		p.title(x.Title, '-')
		p.blocks("", x.Blocks)
	}
	var out bytes.Buffer
	for _, line := range strings.Split(strings.TrimRight(p.out.String(), "\n"), "\n") {
		out.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	_, err := w.Write(out.Bytes())
	return err
}

type plainPrinter struct {
	t   tongue
	out strings.Builder
}

func (p *plainPrinter) blank() {
	if s := p.out.String(); s != "" && !strings.HasSuffix(s, "\n\n") {
		p.out.WriteByte('\n')
	}
}

func (p *plainPrinter) title(s string, under byte) {
	fmt.Fprintf(&p.out, "%s\n%s\n\n", s, strings.Repeat(string(under), utf8.RuneCountInString(s)))
}

// para sets a paragraph; the first line begins with the indent as given, the others with blanks.
func (p *plainPrinter) para(indent, s string) {
	rest := strings.Repeat(" ", utf8.RuneCountInString(indent))
	for i, line := range wrap(s, TextWidth-utf8.RuneCountInString(indent)) {
		if i == 0 {
			p.out.WriteString(indent + line + "\n")
		} else {
			p.out.WriteString(rest + line + "\n")
		}
	}
}

// wrap breaks a text into lines; a word longer than the line stands alone. Fixed blanks do not break.
func wrap(s string, width int) []string {
	var lines []string
	for _, part := range strings.Split(s, "\n") {
		line := ""
		for _, word := range strings.FieldsFunc(part, func(r rune) bool { return r == ' ' || r == '\t' }) {
			if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
				lines = append(lines, line)
				line = ""
			}
			if line != "" {
				line += " "
			}
			line += word
		}
		lines = append(lines, line)
	}
	return lines
}

func (p *plainPrinter) blocks(indent string, blocks []Block) {
	for _, b := range blocks {
		p.block(indent, b)
	}
}

func (p *plainPrinter) block(indent string, b Block) {
	switch b.Kind {
	case Para, Small:
		p.para(indent, spansText(b.Spans))
		p.blank()
	case Heading:
		p.blank()
		p.para(indent, spansText(b.Spans))
		p.blank()
	case List, Checks:
		if b.Title != "" {
			p.para(indent, b.Title+":")
		}
		for i, item := range b.Items {
			mark := "- "
			switch {
			case b.Kind == Checks:
				mark = "[ ] "
			case b.Ordered:
				mark = fmt.Sprintf("%d. ", i+1)
			}
			for n, x := range item {
				if x.Kind == Para && n == 0 {
					p.para(indent+mark, spansText(x.Spans))
					continue
				}
				p.block(indent+"  ", x)
			}
		}
		p.blank()
	case Code:
		for _, line := range strings.Split(b.Text, "\n") {
			p.out.WriteString(indent + "    " + line + "\n")
		}
		p.blank()
	case Quote:
		p.blocks(indent+"  ", b.Blocks)
	case Grid:
		p.table(indent, b.Table)
	case Pictures:
		for _, x := range b.Pictures {
			p.para(indent, "["+join(": ", x.Caption, x.Alt)+"]")
		}
		p.blank()
	case Plan:
		p.para(indent, "["+b.Drawing.Title+"]")
		p.blank()
	case Warnings:
		for _, x := range b.Cautions {
			s := x.Word + ": " + x.Text
			if x.Where != "" {
				s += " (" + x.Where + ")"
			}
			p.para(indent+"! ", s)
		}
		p.blank()
	case Pairs:
		for _, x := range b.Pairs {
			colon := ": "
			if strings.HasSuffix(x.Term, "?") {
				colon = " "
			}
			p.para(indent, x.Term+colon+spansText(x.Spans))
		}
		p.blank()
	case Group:
		p.para(indent, b.Title)
		p.blank()
		p.blocks(indent+"  ", b.Blocks)
	case Links: // a text has no pages to leaf to
	}
}

// table prints a table as one line a row where it fits, else as one paragraph a row.
func (p *plainPrinter) table(indent string, t *Table) {
	rows := make([][]string, 0, len(t.Rows)+1)
	var heads []string
	for _, c := range t.Columns {
		heads = append(heads, c.Title)
	}
	rows = append(rows, heads)
	for _, r := range t.Rows {
		var cells []string
		for _, c := range r.Cells {
			s := spansText(c.Spans)
			if c.Note != "" {
				s = join(" (", s, c.Note+")")
			}
			cells = append(cells, s)
		}
		rows = append(rows, cells)
	}
	width := make([]int, len(t.Columns))
	for _, r := range rows {
		for i, c := range r {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	total := len(indent)
	for _, n := range width {
		total += n + 2
	}
	if t.Caption != "" {
		p.para(indent, t.Caption)
	}
	if total <= TextWidth+2 {
		for _, r := range rows {
			line := indent
			for i, c := range r {
				pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
				if t.Columns[i].Right {
					line += pad + c + "  "
				} else {
					line += c + pad + "  "
				}
			}
			p.out.WriteString(line + "\n")
		}
		p.blank()
		return
	}
	for _, r := range rows[1:] {
		var words []string
		for i, c := range r[1:] {
			if c != "" && c != unknown {
				words = append(words, heads[i+1]+" "+c)
			}
		}
		p.para(indent+"- ", join(": ", r[0], strings.Join(words, "; ")))
	}
	p.blank()
}

// spansText is the text of spans with the addresses of links behind them.
func spansText(spans []Span) string {
	var b strings.Builder
	for _, s := range spans {
		b.WriteString(s.Text)
		if s.Break {
			b.WriteByte('\n')
		}
		if h := SafeLink(s.Href); h != "" && h != s.Text && !strings.HasPrefix(h, "#") {
			b.WriteString(" <" + h + ">")
		}
	}
	return b.String()
}
