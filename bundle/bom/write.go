package bom

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"html"
	"io"
	"regexp"
	"strings"
	"unicode"
)

// WriteCSV writes the rows as RFC 4180: CRLF line ends, a head line, quotes where needed. A byte order mark comes
// first where a sign beyond ASCII follows: spreadsheets take UTF-8 for another code without it. A cell that a
// spreadsheet would run as a formula (it begins with = + - @ or a control character) gets an apostrophe
// before it, as OWASP's note on CSV injection advises.
func (b BOM) WriteCSV(w io.Writer) error {
	var out bytes.Buffer
	c := csv.NewWriter(&out)
	c.UseCRLF = true
	if err := c.Write(Heads); err != nil {
		return err
	}
	for _, r := range b.Rows() {
		cells := r.Cells()
		for i, x := range cells {
			cells[i] = harmless(x)
		}
		if err := c.Write(cells); err != nil {
			return err
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return err
	}
	if bytes.ContainsFunc(out.Bytes(), func(r rune) bool { return r > unicode.MaxASCII }) {
		if _, err := io.WriteString(w, "\ufeff"); err != nil {
			return err
		}
	}
	_, err := w.Write(out.Bytes())
	return err
}

func harmless(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r\n", rune(s[0])) {
		return "'" + s
	}
	return s
}

// WriteMarkdown writes one table per variant and section, for a post or an issue.
func (b BOM) WriteMarkdown(w io.Writer) error {
	var out strings.Builder
	fmt.Fprintf(&out, "# %s %s: bill of materials for %s\n", text(b.Title, b.Design), b.Revision, builds(b.Builds))
	b.sections(func(variant, _, section string, heads []string, rows [][]string) {
		fmt.Fprintf(&out, "\n## %s\n\n", strings.TrimPrefix(variant+": "+section, ": "))
		fmt.Fprintf(&out, "| %s |\n|%s\n", strings.Join(heads, " | "), strings.Repeat(" --- |", len(heads)))
		for _, r := range rows {
			for i := range r {
				r[i] = cellText(r[i])
			}
			fmt.Fprintf(&out, "| %s |\n", strings.Join(r, " | "))
		}
	})
	if s := b.Beside(); len(s.Rows) > 0 {
		heads, rows := s.Table()
		fmt.Fprintf(&out, "\n## %s\n\n%s\n\n", besideTitle, s.summary())
		fmt.Fprintf(&out, "| %s |\n|%s\n", strings.Join(heads, " | "), strings.Repeat(" --- |", len(heads)))
		for i, r := range rows {
			for k := range r {
				r[k] = cellText(r[k])
				if s.Rows[i].Differs && k > 0 && r[k] != "" {
					r[k] = "**" + r[k] + "**"
				}
			}
			fmt.Fprintf(&out, "| %s |\n", strings.Join(r, " | "))
		}
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// cellText keeps a text within its cell of a Markdown table.
func cellText(s string) string {
	return strings.NewReplacer("|", `\|`, "\n", " ", "<", "&lt;", "*", `\*`).Replace(s)
}

// besideTitle heads the table of variants side by side.
const besideTitle = "the variants side by side"

// summary says how much of the table differs.
func (s Beside) summary() string {
	n, all := s.Differ(), len(s.Rows)
	switch n {
	case 0:
		return fmt.Sprintf("All %d lines are the same in every variant.", all)
	case 1:
		return fmt.Sprintf("1 of %d lines differs: it is marked %s.", all, unlike)
	}
	return fmt.Sprintf("%d of %d lines differ: they are marked %s.", n, all, unlike)
}

// WriteHTML writes a page of its own with one table per variant and section.
func (b BOM) WriteHTML(w io.Writer) error {
	var out strings.Builder
	title := html.EscapeString(fmt.Sprintf("%s %s: bill of materials for %s", text(b.Title, b.Design), b.Revision, builds(b.Builds)))
	fmt.Fprintf(&out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n<title>%s</title>\n<style>\n%s</style>\n</head>\n<body>\n<h1>%s</h1>\n", title, pageStyle, title)
	b.sections(func(variant, _, section string, heads []string, rows [][]string) {
		fmt.Fprintf(&out, "<h2>%s</h2>\n<table>\n<thead><tr>", html.EscapeString(strings.TrimPrefix(variant+": "+section, ": ")))
		for _, h := range heads {
			class := ""
			if isFigure(h) {
				class = ` class="n"`
			}
			fmt.Fprintf(&out, "<th scope=\"col\"%s>%s</th>", class, html.EscapeString(h))
		}
		out.WriteString("</tr></thead>\n<tbody>\n")
		for _, r := range rows {
			out.WriteString("<tr>")
			for i, c := range r {
				class := ""
				if isFigure(heads[i]) {
					class = ` class="n"`
				}
				fmt.Fprintf(&out, "<td%s>%s</td>", class, swatched(c))
			}
			out.WriteString("</tr>\n")
		}
		out.WriteString("</tbody>\n</table>\n")
	})
	if s := b.Beside(); len(s.Rows) > 0 {
		s.html(&out)
	}
	out.WriteString("</body>\n</html>\n")
	_, err := io.WriteString(w, out.String())
	return err
}

var hex = regexp.MustCompile(`#[0-9a-f]{6}\b`)

// swatched is a text with a square of its colour before each one that it names.
func swatched(s string) string {
	return hex.ReplaceAllString(html.EscapeString(s), `<svg class="s" viewBox="0 0 12 12" aria-hidden="true"><rect x="1" y="1" width="10" height="10" fill="$0" stroke="currentColor"/></svg>$0`)
}

// html writes the variants side by side: what differs is bold, has a bar before it, a sign and a word.
func (s Beside) html(out *strings.Builder) {
	heads, rows := s.Table()
	fmt.Fprintf(out, "<h2>%s</h2>\n<p>%s</p>\n<table>\n<thead><tr>", besideTitle, s.summary())
	for i, h := range heads {
		if i == 0 {
			fmt.Fprintf(out, "<th scope=\"col\"><abbr title=\"differs\">%s</abbr></th>", unlike)
			continue
		}
		fmt.Fprintf(out, "<th scope=\"col\">%s</th>", html.EscapeString(h))
	}
	out.WriteString("</tr></thead>\n<tbody>\n")
	for i, r := range rows {
		if s.Rows[i].Differs {
			out.WriteString("<tr class=\"d\">")
		} else {
			out.WriteString("<tr>")
		}
		for k, c := range r {
			switch {
			case k == 1:
				fmt.Fprintf(out, "<th scope=\"row\">%s</th>", html.EscapeString(c))
			default:
				fmt.Fprintf(out, "<td>%s</td>", html.EscapeString(c))
			}
		}
		out.WriteString("</tr>\n")
	}
	out.WriteString("</tbody>\n</table>\n")
}

// pageStyle is plain: black on white, or light on dark where the reader's system says so.
const pageStyle = `:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .3rem .8rem .3rem 0; border-bottom: 1px solid color-mix(in srgb, currentColor 25%, transparent); }
.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
th.n { text-align: right; }
.s { width: .85em; height: .85em; vertical-align: -.08em; margin-right: .35em; }
tbody th { font-weight: inherit; }
.d td, .d th { font-weight: 600; }
.d td:first-child { border-left: 4px solid; padding-left: .5rem; }
@media (max-width: 40rem) { body { margin: 1rem auto; } table { display: block; overflow-x: auto; } }
@media print { @page { margin: 15mm; } tr { break-inside: avoid; } h2 { break-after: avoid; } thead { display: table-header-group; } }
`

func isFigure(head string) bool {
	switch head {
	case "count", "grams", "time", "cost", "packs", "pack of":
		return true
	}
	return false
}

func text(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

func builds(n int) string {
	if n == 1 {
		return "1 build"
	}
	return fmt.Sprintf("%d builds", n)
}

// sectionTitles are the words for the sections of Rows, in order.
var sectionTitles = []struct{ key, title string }{
	{"print", "to print"}, {"filament", "filament"}, {"load", "bed loads"}, {"fastener", "fasteners"}, {"bought", "to buy"}, {"supply", "supplies"}, {"total", "in all"},
}

// sections calls visit for each section that has rows, with the columns that hold anything.
func (b BOM) sections(visit func(variant, key, section string, heads []string, rows [][]string)) {
	all := b.Rows()
	for _, v := range b.Variants {
		for _, s := range sectionTitles {
			var cells [][]string
			for _, r := range all {
				if r.Variant == v.Variant && r.Section == s.key {
					cells = append(cells, r.Cells()[2:])
				}
			}
			if len(cells) == 0 {
				continue
			}
			heads := Heads[2:]
			var keep []int
			for i := range heads {
				for _, r := range cells {
					if r[i] != "" {
						keep = append(keep, i)
						break
					}
				}
			}
			var h []string
			for _, i := range keep {
				h = append(h, heads[i])
			}
			rows := make([][]string, len(cells))
			for k, r := range cells {
				for _, i := range keep {
					rows[k] = append(rows[k], r[i])
				}
			}
			name := v.Title
			if name == "" {
				name = v.Variant
			}
			if len(b.Variants) == 1 && v.Variant == "plain" {
				name = ""
			}
			visit(name, s.key, s.title, h, rows)
		}
	}
}

// Section is one table of the bill.
type Section struct {
	Variant, Title string
	Key            string // as of Row: "print", "filament", …
	Heads          []string
	Rows           [][]string
}

// Sections returns the tables of the bill, for printing them elsewhere.
func (b BOM) Sections() []Section {
	var out []Section
	b.sections(func(variant, key, section string, heads []string, rows [][]string) {
		out = append(out, Section{variant, section, key, heads, rows})
	})
	return out
}
