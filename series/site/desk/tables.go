package desk

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"dropwright/bundle/bom"
	"dropwright/bundle/sheet"
	"dropwright/series/site"
)

// sheetTable is a table of the assembly sheet. n tells several on one page apart.
func sheetTable(t *sheet.Table, variant string, n int) site.Table {
	out := site.Table{Caption: t.Caption, Title: t.Caption}
	if variant != "" {
		out.Caption = strings.TrimSuffix(variant+": "+t.Caption, ": ")
		out.Title = out.Caption
	}
	if out.Title == "" {
		out.Title = fmt.Sprintf("Print table %d", n+1)
	}
	for _, c := range t.Columns {
		out.Head = append(out.Head, site.Column{Text: c.Title, Figure: c.Right})
	}
	for _, r := range t.Rows {
		row := site.Row{}
		for _, c := range r.Cells {
			cell := site.Cell{Text: plain(c.Spans), Note: c.Note}
			for _, s := range c.Spans {
				if s.Swatch != "" {
					cell.Swatch = colourOf(s.Swatch)
				}
			}
			row.Cells = append(row.Cells, cell)
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// plain is the text of a run.
func plain(spans []sheet.Span) string {
	var b strings.Builder
	for _, s := range spans {
		b.WriteString(s.Text)
		if s.Break {
			b.WriteByte(' ')
		}
	}
	return b.String()
}

// figureHeads are the columns of a bill that hold figures.
var figureHeads = []string{"count", "packs", "pack of", "grams", "time", "cost"}

// bill is the bill of materials of one variant for one build, without what the print table says.
func bill(x *Design, variant, called string) billView {
	b := x.Work.BOM([]string{variant}, 1, x.BoardTitle)
	out := billView{Variant: called, Commands: fmt.Sprintf("dropwright bom %s --variant %s --builds 10", x.Name, variant)}
	for _, s := range b.Sections() {
		if s.Key == "print" || s.Key == "total" {
			continue
		}
		t := site.Table{Caption: strings.ToUpper(s.Title[:1]) + s.Title[1:]}
		t.Title = t.Caption
		if called != "" {
			t.Title += ", " + called
		}
		for _, h := range s.Heads {
			t.Head = append(t.Head, site.Column{Text: h, Figure: slices.Contains(figureHeads, h), Long: h == "what" || h == "from"})
		}
		for _, r := range s.Rows {
			row := site.Row{}
			for _, c := range r {
				row.Cells = append(row.Cells, site.Cell{Text: c})
			}
			t.Rows = append(t.Rows, row)
		}
		out.Tables = append(out.Tables, t)
	}
	for _, v := range b.Variants {
		out.Cost, out.Missing = cost(b, v), v.Missing
	}
	return out
}

func cost(b bom.BOM, v bom.Variant) string {
	if v.Cost == nil {
		return ""
	}
	text := fmt.Sprintf("%.2f %s", *v.Cost, b.Currency)
	if !v.Complete {
		text += " for what has a price"
	}
	return text
}

// hours prints a stretch of hours as 3h05m.
func hours(h float64) string {
	d := time.Duration(h * float64(time.Hour)).Round(time.Minute)
	if d < time.Hour {
		return fmt.Sprintf("%dm", int(d.Minutes()))
	}
	return fmt.Sprintf("%dh%02dm", int(d.Hours()), int(d.Minutes())%60)
}

// zoneOf is the zone of a season's dates.
func zoneOf(s *Season) *time.Location {
	if s == nil || s.Zone == nil {
		return time.UTC
	}
	return s.Zone
}
