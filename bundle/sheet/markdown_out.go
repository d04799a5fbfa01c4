package sheet

import (
	"fmt"
	"regexp"
	"strings"
)

// markdownOf prints blocks as CommonMark that reads back to the same blocks. Tables, drawings and cautions do
// not occur in announcements; they are printed as their text.
func markdownOf(blocks []Block) string {
	var b strings.Builder
	markdownBlocks(&b, "", blocks)
	return strings.TrimSpace(b.String()) + "\n"
}

// markdownBlocks writes blocks with a blank line between; indent is what every line but a list's first begins
// with.
func markdownBlocks(b *strings.Builder, indent string, blocks []Block) {
	line := func(s string) { b.WriteString(strings.TrimRight(indent+s, " ") + "\n") }
	var before Block
	for i, x := range blocks {
		if i > 0 && x.Kind == List && before.Kind == List && x.Ordered == before.Ordered {
			line("<!-- -->") // two lists one after the other would be read as one (CommonMark 0.31, section 5.3)
			line("")
		}
		before = x
		switch x.Kind {
		case Para, Small:
			for _, l := range strings.Split(markdownSpans(x.Spans), "\n") {
				line(l)
			}
		case Heading:
			line(strings.Repeat("#", max(1, min(6, x.Level))) + " " + strings.ReplaceAll(markdownSpans(x.Spans), "\\\n", " "))
		case List, Checks:
			for n, item := range x.Items {
				mark := "- "
				if x.Ordered {
					mark = fmt.Sprintf("%d. ", n+1)
				}
				var inner strings.Builder
				markdownBlocks(&inner, indent+strings.Repeat(" ", len(mark)), item)
				b.WriteString(indent + mark + strings.TrimPrefix(strings.TrimRight(inner.String(), "\n"), indent+strings.Repeat(" ", len(mark))) + "\n")
			}
		case Code:
			fence := "```"
			for strings.Contains(x.Text, fence) {
				fence += "`"
			}
			line(fence)
			for _, l := range strings.Split(x.Text, "\n") {
				line(l)
			}
			line(fence)
		case Quote:
			var inner strings.Builder
			markdownBlocks(&inner, "", x.Blocks)
			for _, l := range strings.Split(strings.TrimRight(inner.String(), "\n"), "\n") {
				line("> " + l)
			}
		case Pairs:
			for _, p := range x.Pairs {
				line("**" + escape(p.Term) + "** " + markdownSpans(p.Spans))
				line("")
			}
		default:
			p := plainPrinter{}
			p.block("", x)
			for _, l := range strings.Split(strings.TrimSpace(p.out.String()), "\n") {
				line(escape(l))
			}
		}
		line("")
	}
}

var special = regexp.MustCompile("[\\\\`*_\\[\\]<>|&~]")

// begins are the starts of a line that CommonMark takes for something else than text.
var begins = regexp.MustCompile(`^(\s*)([#+=-]|\d{1,9}[.)])`)

// escape puts a backslash before what CommonMark would read as markup (section 2.4).
func escape(s string) string { return special.ReplaceAllString(s, `\$0`) }

func markdownSpans(spans []Span) string {
	var b strings.Builder
	for _, s := range spans {
		text := escape(s.Text)
		if s.Code {
			fence := "`"
			for strings.Contains(s.Text, fence) {
				fence += "`"
			}
			pad := ""
			if strings.HasPrefix(s.Text, "`") || strings.HasSuffix(s.Text, "`") {
				pad = " "
			}
			text = fence + pad + s.Text + pad + fence
		}
		if t := strings.TrimSpace(text); t != "" && (s.Em || s.Strong) { // emphasis must touch its words (section 6.2)
			mark := ""
			if s.Em {
				mark += "*"
			}
			if s.Strong {
				mark += "**"
			}
			left := text[:strings.Index(text, t)]
			right := text[len(left)+len(t):]
			text = left + mark + t + mark + right
		}
		if h := SafeLink(s.Href); h != "" {
			text = "[" + text + "](<" + strings.NewReplacer("<", "%3C", ">", "%3E", "\n", "").Replace(h) + ">)"
		}
		b.WriteString(text)
		if s.Break {
			b.WriteString("\\\n")
		}
	}
	lines := strings.Split(b.String(), "\n")
	for i, l := range lines {
		lines[i] = begins.ReplaceAllStringFunc(l, func(m string) string {
			last := m[len(m)-1:]
			return m[:len(m)-1] + `\` + last
		})
	}
	return strings.Join(lines, "\n")
}
