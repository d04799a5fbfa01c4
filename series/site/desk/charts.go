package desk

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"dropwright/bundle/unit"
	"dropwright/series/outlook"
	"dropwright/series/site"
)

// loads draws what each printer has to do, week by week, against what it can.
func loads(o *outlook.Season) []site.Chart {
	var out []site.Chart
	for i, p := range o.Printers {
		if len(p.Load) == 0 {
			continue
		}
		id := fmt.Sprintf("load%d", i+1)
		c := site.Chart{ID: id, Title: p.Name, Head: []string{"week", "\tneeds, h", "\tcan, h", "\ttoo late, h"}}
		var bars []site.Bar
		var over []int
		total := 0.0
		for _, l := range p.Load {
			bars = append(bars, site.Bar{Label: strconv.Itoa(l.Week), Value: l.Need, Limit: l.Have, Over: l.Over, Mark: l.Week == o.Week})
			total += l.Need
			if l.Over > 0 {
				over = append(over, l.Week)
			}
			c.Rows = append(c.Rows, []string{strconv.Itoa(l.Week), tenth(l.Need), tenth(l.Have), tenth(l.Over)})
		}
		c.Says = fmt.Sprintf("%.0f hours a week; %s of prints for the coming weeks", p.HoursPerWeek, hours(total))
		if len(over) > 0 {
			c.Says += "; not in time: " + weeksSaid(over)
		} else {
			c.Says += ", all in time"
		}
		c.Says += "."
		c.Key = []site.KeyEntry{{Mark: site.Sample(c.ID, "bar"), Text: "hours of prints"}, {Mark: site.Sample(c.ID, "limit"), Text: "what it can run in that time"}, {Mark: site.Sample(c.ID, "over"), Text: "ends too late"}}
		c.Drawing = site.Columns(id, "Load of the printer "+p.Name, c.Says+" Bars are hours of prints, strokes what the printer can do in that time, lined what ends too late.", "h", 0, bars)
		out = append(out, c)
	}
	return out
}

// shortDay is a day in a table whose year is clear.
const shortDay = "Mon 2 Jan"

func tenth(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', 1, 64) }

// queue is the proposed order of prints.
func queue(v *overviewView, s *Season, o *outlook.Season) (*site.Table, string) {
	q := o.Queue
	says := ""
	switch q.Verdict {
	case "kept":
		says = "In this order every day is kept."
	case "impossible":
		says = "No order keeps every day."
	case "unknown":
		says = "No order was found that keeps every day."
	}
	if q.Why != "" { // it says the same, and what to do
		says = strings.TrimSuffix(strings.ToUpper(q.Why[:1])+q.Why[1:], ".") + "."
	}
	if len(q.Unknown) > 0 {
		says += " Hours not known: " + strings.Join(q.Unknown, ", ") + "."
	}
	if len(q.Jobs) == 0 {
		return nil, says
	}
	t := site.Table{Title: "Prints in their order", Head: []site.Column{{Text: "print"}, {Text: "printer"}, {Text: "for"}, {Text: "hours", Figure: true}, {Text: "filament"}, {Text: "starts"}, {Text: "ends"}, {Text: "due"}}}
	for _, j := range q.Jobs {
		name := site.Cell{Text: j.Design + "/" + j.Part, Note: j.Variant}
		if slices.Contains(s.Names, j.Design) {
			name.Href = v.To(designPath(j.Design))
		}
		what := fmt.Sprintf("%d × %s, week %d", j.Prints, j.For, j.Week)
		short := func(t time.Time) string {
			if t.IsZero() {
				return ""
			}
			return t.In(zoneOf(s)).Format("Mon 2 Jan 15:04")
		}
		printer := site.Cell{Text: j.Printer}
		if j.Printer == "" {
			printer = site.Cell{Text: "none takes it", Strong: true}
		}
		filament := ""
		if j.Filament != "" {
			filament = fmt.Sprintf("%s, %.0f g", j.Filament, j.Grams)
		}
		t.Rows = append(t.Rows, site.Row{Cells: []site.Cell{name, printer, {Text: what}, {Text: tenth(j.Hours)}, {Text: filament},
			{Text: short(j.Starts)}, {Text: short(j.Ends), Strong: j.Late}, {Text: short(j.Due)}}})
	}
	return &t, says
}

// shelf is what is in stock and what to order.
func (d *Desk) shelf(v *overviewView, s *Season, o *outlook.Season) {
	k := o.Stock
	c := site.Chart{ID: "stock", Title: "Filament", Head: []string{"filament", "\tneeded, g", "\tin stock, g", "\tshort, g", "short from"}}
	var bars []site.Bar
	short := 0
	for _, x := range k.Needs {
		if x.Kind != "filament" {
			continue
		}
		bars = append(bars, site.Bar{Label: x.Item, Value: x.Need, Limit: x.Have, Over: x.Short})
		from := ""
		if x.Short > 0 {
			short++
			from = day(x.By, s.Zone)
			if x.ByWeek > 0 {
				from = strings.TrimSpace(fmt.Sprintf("%s, week %d", from, x.ByWeek))
			}
		}
		c.Rows = append(c.Rows, []string{x.Item, fmt.Sprintf("%.0f", x.Need), fmt.Sprintf("%.0f", x.Have), fmt.Sprintf("%.0f", x.Short), from})
	}
	if len(bars) > 0 {
		switch {
		case !k.Kept:
			c.Says = "No stock is kept yet, so all that is needed counts as short."
		case short == 0:
			c.Says = "What the coming weeks need is there."
		default:
			c.Says = fmt.Sprintf("%d of %s not enough for the coming weeks.", short, unit.Count(len(bars), "filament"))
		}
		c.Key = []site.KeyEntry{{Mark: site.Sample(c.ID, "bar"), Text: "needed"}, {Mark: site.Sample(c.ID, "limit"), Text: "in stock"}, {Mark: site.Sample(c.ID, "over"), Text: "short"}}
		c.Drawing = site.Levels("stock", "Filament needed and in stock", c.Says+" Bars are grams needed, strokes grams in stock, lined what is short.", bars, func(b site.Bar) string {
			return fmt.Sprintf("%.0f of %.0f g", b.Value, b.Limit)
		})
		v.Stock = &c
	}
	for _, t := range k.NoSpool {
		v.Tight = append(v.Tight, fmt.Sprintf("%s/%s in week %d takes %.0f g of %s; the fullest spool holds %.0f g", t.Design, t.Part, t.Week, t.Grams, t.Filament, t.Fullest))
	}
	if len(k.Orders) == 0 {
		return
	}
	t := site.Table{Title: "To order", Head: []site.Column{{Text: "item", Long: true}, {Text: "short", Figure: true}, {Text: "order", Figure: true}, {Text: "cost", Figure: true}, {Text: "by"}, {Text: "for week", Figure: true}}}
	for _, x := range k.Orders {
		order := unit.Count(x.Packs, x.Word)
		if x.Of > 1 {
			order += fmt.Sprintf(" of %g", x.Of)
			if x.Unit != "pcs" {
				order += " " + x.Unit
			}
		}
		by := ""
		if !x.By.IsZero() {
			by = x.By.In(zoneOf(s)).Format(shortDay)
		}
		cost := ""
		if x.Cost != nil {
			cost = fmt.Sprintf("%.2f %s", *x.Cost, o.Currency)
		}
		week := ""
		if x.Week > 0 {
			week = strconv.Itoa(x.Week)
		}
		t.Rows = append(t.Rows, site.Row{Cells: []site.Cell{{Text: x.Item, Note: x.Kind}, {Text: fmt.Sprintf("%g %s", math.Round(x.Short*10)/10, x.Unit)}, {Text: order}, {Text: cost}, {Text: by}, {Text: week}}})
	}
	v.Orders = &t
	v.OrderCost = fmt.Sprintf("%.2f %s", k.Cost, o.Currency)
	if k.Unpriced > 0 {
		v.OrderCost += fmt.Sprintf(" for what has a price; %d without one", k.Unpriced)
	}
}

// odds draws the chance of each coming week.
func odds(s *Season, o *outlook.Season) (*site.Chart, *site.Table) {
	c := site.Chart{ID: "odds", Title: "Chance that each early day is kept", Head: []string{"week", "design", "\tchance"}}
	var bars []site.Bar
	for _, w := range o.Weeks {
		if w.Chance == nil {
			continue
		}
		said := outlook.Percent(*w.Chance, o.Odds.Finest)
		step := float64(max(1, o.Odds.Finest))
		shown := math.Round(*w.Chance*100/step) * step // no finer in the drawing than in words
		bars = append(bars, site.Bar{Label: strconv.Itoa(w.Week), Value: shown, Mark: w.Week == o.Week})
		name := w.Design
		if name == "" {
			name = "free"
		}
		c.Rows = append(c.Rows, []string{strconv.Itoa(w.Week), name, said})
	}
	if len(bars) == 0 {
		return nil, nil
	}
	if o.Odds.Says != "" {
		c.Says = "Rests on " + o.Odds.Says
	}
	if o.Odds.All != nil {
		c.Says = strings.TrimSpace(fmt.Sprintf("%s All days are kept with %s.", strings.TrimSuffix(c.Says, ".")+".", outlook.Percent(*o.Odds.All, o.Odds.Finest)))
	}
	c.Drawing = site.Columns("odds", c.Title, c.Says, "%", 100, bars)
	if len(o.Odds.Taken) == 0 {
		return &c, nil
	}
	t := site.Table{Title: "How long designs took", Head: []site.Column{{Text: "design"}, {Text: "from"}, {Text: "to"}, {Text: "days", Figure: true}}}
	for _, x := range o.Odds.Taken {
		t.Rows = append(t.Rows, site.Row{Cells: []site.Cell{{Text: x.Design}, {Text: day(x.From, s.Zone)}, {Text: day(x.To, s.Zone)}, {Text: tenth(x.Days)}}})
	}
	return &c, &t
}

func ideas(o *outlook.Season) *site.Table {
	if len(o.Ideas) == 0 {
		return nil
	}
	t := site.Table{Title: "Ideas", Head: []site.Column{{Text: "idea"}, {Text: "asked for", Figure: true}, {Text: "week", Figure: true}, {Text: "note", Long: true}}}
	for _, i := range o.Ideas {
		week := ""
		if i.Week > 0 {
			week = strconv.Itoa(i.Week)
		}
		note := i.Note
		if i.Begun {
			note = strings.TrimPrefix(note+"; begun", "; ")
		}
		t.Rows = append(t.Rows, site.Row{Cells: []site.Cell{{Text: i.Name, Note: i.Title}, {Text: fmt.Sprintf("%d ×", i.Asked)}, {Text: week}, {Text: note}}})
	}
	return &t
}

func reports(v *overviewView, s *Season, o *outlook.Season) *site.Table {
	if len(o.Reports) == 0 {
		return nil
	}
	t := site.Table{Title: "Open reports", Head: []site.Column{{Text: "design"}, {Text: "part"}, {Text: "revision"}, {Text: "what is wrong", Long: true}, {Text: "since"}}}
	for _, r := range o.Reports {
		name := site.Cell{Text: r.Design, Note: r.ID}
		if slices.Contains(s.Names, r.Design) {
			name.Href = v.To(designPath(r.Design))
		}
		t.Rows = append(t.Rows, site.Row{Cells: []site.Cell{name, {Text: r.Part}, {Text: r.Revision}, {Text: r.Text}, {Text: day(r.At, s.Zone)}}})
	}
	return &t
}
