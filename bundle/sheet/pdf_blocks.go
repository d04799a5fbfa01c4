package sheet

import (
	"fmt"
	"math"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

const ink, soft = 0x15, 0x55

// sheet lays out everything.
func (p *pdfPrinter) sheet() []strip {
	s := p.s
	var out []strip
	if s.Logo != "" {
		if info := p.picture(s.Logo); info != nil {
			out = append(out, p.imageStrip(s.Logo, info, 50, 14, 0))
		}
	}
	width := p.width
	if len(s.Code) > 0 {
		width -= codeSide + 4
	}
	var top []strip
	top = append(top, p.para([]Span{{Text: p.t.say("sheet of", s.Design)}}, ptSmall, width, 0, 0, false, soft)...)
	title := join(": ", s.Title, s.VariantTitle)
	head := p.para([]Span{{Text: title}}, ptH1, width, 0, 0.5, true, ink)
	head[0].draw = before(head[0].draw, func(x, y float64) { p.f.Bookmark(fit(title), 0, y) })
	top = append(top, head...)
	top = append(top, p.para([]Span{{Text: s.Summary}}, 11, width, 0, 1, false, ink)...)
	if len(s.Code) > 0 { // beside the title, and nothing below it before its end
		top[0].draw = before(top[0].draw, func(x, y float64) { p.drawCode(x+p.width, y) })
		if room := codeSide - sum(top); room > 0 {
			top = append(top, strip{height: room})
		}
		whole(top)
	}
	out = append(out, top...)
	out = append(out, p.blocks(s.Head, p.width)...)
	if sum(out) < p.height { // the first page says what it is, whose, and what one may do with it
		whole(out)
	}
	for _, x := range s.Sections {
		if x.ID == "about" { // a few lines that need no page of their own
			out[len(out)-1].tie = costAlone
		}
		out = append(out, p.section(x)...)
	}
	if missing := s.MissingGlyphs(); len(missing) > 0 {
		out = append(out, p.para([]Span{{Text: p.t.say("glyphs missing", codePoints(missing))}}, ptSmall, p.width, 0, 3, false, soft)...)
	}
	return out
}

// before runs another painter first.
func before(draw, first func(x, y float64)) func(x, y float64) {
	return func(x, y float64) {
		first(x, y)
		draw(x, y)
	}
}

func (p *pdfPrinter) section(s Section) []strip {
	head := p.para([]Span{{Text: s.Title}}, ptH2, p.width, 0, 0, true, ink)
	const room = 2.6 // between the rule and the title
	head[0].height += room
	head[0].gap = 8
	first := head[0].draw
	head[0].draw = func(x, y float64) {
		p.f.Bookmark(fit(s.Title), 1, y)
		p.f.SetDrawColor(rgb(p.s.Accent))
		p.f.SetLineWidth(Thick)
		p.f.Line(x, y, x+p.width, y)
		first(x, y+room)
	}
	for i := range head {
		head[i].keepNext = true
	}
	body := p.blocks(s.Blocks, p.width)
	return append(head, body...)
}

func (p *pdfPrinter) blocks(blocks []Block, width float64) []strip {
	var out []strip
	for i, b := range blocks {
		strips := p.block(b, width)
		if i+1 < len(blocks) && len(strips) > 0 {
			switch next := blocks[i+1].Kind; {
			case b.Kind == Para && (next == Plan || next == Grid): // what leads up to a drawing or table stays with it
				for k := range strips {
					strips[k].keepNext = true
				}
			case next == Small, b.Kind == Grid && next == Para: // and so does what is said of it afterwards
				strips[len(strips)-1].keepNext = true
			case b.Kind == Grid && next == Plan: // a table and the drawing that goes with it
				strips[len(strips)-1].keepNext = true
			case next == Plan: // a drawing stands with the other drawings of the same thing
				strips[len(strips)-1].tie = costPieces
			case b.Kind == Pictures && next == Pictures:
				strips[len(strips)-1].tie = costRow
			}
		}
		out = append(out, strips...)
	}
	return out
}

func (p *pdfPrinter) block(b Block, width float64) []strip {
	switch b.Kind {
	case Para:
		return p.para(b.Spans, ptBody, width, 0, 1.6, false, ink)
	case Small:
		return p.para(b.Spans, ptSmall, width, 0, 1.6, false, soft)
	case Heading:
		out := p.para(b.Spans, ptBody+0.5, width, 0, 4, true, ink)
		for i := range out {
			out[i].keepNext = true
		}
		return out
	case List, Checks:
		return p.list(b, width)
	case Code:
		var out []strip
		for i, l := range strings.Split(b.Text, "\n") {
			gap := 0.0
			if i == 0 {
				gap = 1.6
			}
			out = append(out, p.para([]Span{{Text: strings.ReplaceAll(l, " ", nbsp), Code: true}}, ptSmall, width, 4, gap, false, ink)...)
		}
		return out
	case Quote:
		return indented(p.blocks(b.Blocks, width-6), 6)
	case Grid:
		return p.table(b.Table, width)
	case Pictures:
		return p.pictures(b, width)
	case Plan:
		return p.plan(b.Drawing, width)
	case Warnings:
		return p.cautions(b.Cautions, width)
	case Pairs:
		return p.pairs(b.Pairs, width)
	case Group:
		return p.group(b, width)
	}
	return nil // the contents are the PDF's bookmarks
}

// indented moves strips to the right.
func indented(strips []strip, by float64) []strip {
	for i := range strips {
		if draw := strips[i].draw; draw != nil {
			strips[i].draw = func(x, y float64) { draw(x+by, y) }
		}
	}
	return strips
}

func (p *pdfPrinter) list(b Block, width float64) []strip {
	var out []strip
	if b.Title != "" {
		out = append(out, p.para([]Span{{Text: b.Title}}, ptBody, width, 0, 1.6, true, ink)...)
		out[len(out)-1].keepNext = true
	}
	const room = 5.5
	for n, item := range b.Items {
		inner := indented(p.blocks(item, width-room), room)
		if len(inner) == 0 {
			continue
		}
		inner[0].gap = 0.8
		if n == 0 && b.Title == "" {
			inner[0].gap = 1.6
		}
		mark := func(x, y float64) {
			p.f.SetFont("sans", "", ptBody)
			p.f.SetTextColor(grey(ink))
			p.f.Text(x+1, y+base(ptBody), "•")
		}
		switch {
		case b.Kind == Checks:
			mark = func(x, y float64) {
				p.f.SetDrawColor(grey(ink))
				p.f.SetLineWidth(Wide)
				p.f.Rect(x+0.3, y+base(ptBody)-2.9, 3, 3, "D")
			}
		case b.Ordered:
			mark = func(x, y float64) {
				p.f.SetFont("sans", "", ptBody)
				p.f.SetTextColor(grey(ink))
				p.f.Text(x, y+base(ptBody), fmt.Sprintf("%d.", n+1))
			}
		}
		inner[0].draw = before(inner[0].draw, mark)
		whole(inner)
		if last := len(inner) - 1; n == 0 || n == len(b.Items)-2 { // no item alone on a page
			inner[last].keepNext = n < len(b.Items)-1
		} else {
			inner[last].tie = costRow
		}
		out = append(out, inner...)
	}
	short := p.height / 6
	if b.Kind == Checks {
		short = p.height / 3 // a list to tick is better read on one page
	}
	if sum(out) < short {
		whole(out)
	}
	return out
}

func (p *pdfPrinter) pairs(pairs []Pair, width float64) []strip {
	const term = 36.0
	var out []strip
	for i, x := range pairs {
		left := p.setLines([]Span{{Text: x.Term}}, ptBody, term-3, false)
		right := p.setLines(x.Spans, ptBody, width-term, false)
		n := max(len(left), len(right))
		gap := 0.6
		if i == 0 {
			gap = 3
		}
		out = append(out, strip{height: float64(n) * leading(ptBody), gap: gap, draw: func(x, y float64) {
			for i, l := range left {
				p.drawLine(l, x, y+base(ptBody)+float64(i)*leading(ptBody), ptBody, false, soft)
			}
			for i, l := range right {
				p.drawLine(l, x+term, y+base(ptBody)+float64(i)*leading(ptBody), ptBody, false, ink)
			}
		}})
	}
	if sum(out) < p.height/4 {
		whole(out)
	}
	return out
}

// cautions is a framed box, one strip a caution; the frame closes where a page ends.
func (p *pdfPrinter) cautions(list []Caution, width float64) []strip {
	const wordRoom, pad = 27.0, 1.8
	var out []strip
	for i, c := range list {
		lines := p.setLines([]Span{{Text: c.Text}}, ptBody, width-wordRoom-2*pad, false)
		var where []textLine
		if c.Where != "" {
			where = p.setLines([]Span{{Text: c.Where}}, ptSmall, width-wordRoom-2*pad, false)
		}
		h := float64(len(lines))*leading(ptBody) + float64(len(where))*leading(ptSmall) + 2*pad
		gap := 0.0
		if i == 0 {
			gap = 2.4
		}
		out = append(out, strip{height: h, gap: gap, draw: func(x, y float64) {
			p.f.SetDrawColor(grey(ink))
			p.f.SetLineWidth(0.25)
			p.f.Rect(x, y, width, h, "D")
			p.f.SetFont("sans", "B", ptBody)
			if c.Signal == "notice" {
				p.f.SetFont("sans", "I", ptBody)
			}
			p.f.SetTextColor(grey(ink))
			at := y + pad + base(ptBody)
			p.f.Text(x+pad+0.5, at, c.Word)
			if c.Signal == "danger" || c.Signal == "warning" {
				p.f.SetLineWidth(0.5)
				p.f.Line(x+pad+0.5, at+1, x+pad+0.5+p.f.GetStringWidth(c.Word), at+1)
			}
			for i, l := range lines {
				p.drawLine(l, x+wordRoom+pad, at+float64(i)*leading(ptBody), ptBody, false, ink)
			}
			for i, l := range where {
				p.drawLine(l, x+wordRoom+pad, y+pad+float64(len(lines))*leading(ptBody)+base(ptSmall)+float64(i)*leading(ptSmall), ptSmall, false, soft)
			}
		}})
	}
	if sum(out) < p.height*0.7 { // who reads half of it is half warned
		whole(out)
	} else {
		pairwise(out)
	}
	return out
}

// group is a step: title, then words with the pictures beside them. It stays whole where a page can hold it.
func (p *pdfPrinter) group(b Block, width float64) []strip {
	const gutter, pictureWidth = 7.0, 66.0
	title := p.para([]Span{{Text: b.Title}}, ptH3, width, 0, 7, true, ink)
	title[0].draw = before(title[0].draw, func(x, y float64) {
		p.f.Bookmark(fit(b.Title), 2, y)
		p.f.SetDrawColor(grey(0xc9))
		p.f.SetLineWidth(0.2)
		p.f.Line(x, y-2.2, x+width, y-2.2)
	})
	figures := split(b.Blocks, true)
	var body []strip
	if len(figures) == 0 {
		body = p.blocks(split(b.Blocks, false), width)
	} else {
		words := p.blocks(split(b.Blocks, false), width-pictureWidth-gutter)
		pictures := p.blocks(figures, pictureWidth)
		if tall := math.Max(sum(words), sum(pictures)); tall+sum(title) < p.height {
			body = []strip{{height: tall, gap: 1.6, draw: func(x, y float64) {
				paint(words, x, y)
				paint(pictures, x+width-pictureWidth, y)
			}}}
		} else {
			body = p.blocks(b.Blocks, width)
		}
	}
	all := append(title, body...)
	if sum(all) < p.height {
		whole(all)
	} else {
		for i := range title {
			all[i].keepNext = true
		}
	}
	return all
}

// sum is the height of strips one below another.
func sum(strips []strip) float64 {
	h := 0.0
	for i, s := range strips {
		h += s.height
		if i > 0 {
			h += s.gap
		}
	}
	return h
}

// paint draws strips one below another.
func paint(strips []strip, x, y float64) {
	for i, s := range strips {
		if i > 0 {
			y += s.gap
		}
		if s.draw != nil {
			s.draw(x, y)
		}
		y += s.height
	}
}

// plan paints a drawing; one at true size is never scaled, another only when it is too wide.
func (p *pdfPrinter) plan(d *Drawing, width float64) []strip {
	k := 1.0
	if !d.True && d.Width > width {
		k = width / d.Width
	}
	return []strip{{height: d.Height * k, gap: 3, draw: func(x, y float64) {
		for _, s := range d.Shapes {
			p.shape(s, x, y, k)
		}
	}}}
}

func (p *pdfPrinter) shape(s Shape, x, y, k float64) {
	if len(s.Points) == 0 {
		return
	}
	at := func(q Point) (float64, float64) { return x + q.X*k, y + q.Y*k }
	if s.Text != "" {
		style := ""
		if s.Bold {
			style = "B"
		}
		p.f.SetFont("sans", style, s.Size*k/pt*0.92) // DejaVu runs wider than system fonts
		p.f.SetTextColor(grey(ink))
		tx, ty := at(s.Points[0])
		text := fit(s.Text)
		switch s.Anchor {
		case "end":
			tx -= p.f.GetStringWidth(text)
		case "middle":
			tx -= p.f.GetStringWidth(text) / 2
		}
		p.f.Text(tx, ty, text)
		return
	}
	p.f.SetLineWidth(s.Stroke * k)
	p.f.SetDrawColor(grey(ink))
	if s.Colour != "" {
		p.f.SetDrawColor(rgb(s.Colour))
	}
	style := "D"
	switch s.Fill {
	case "":
	case "ink":
		p.f.SetFillColor(grey(ink))
		style = "FD"
	case "paper":
		p.f.SetFillColor(grey(0xff))
		style = "FD"
	default:
		p.f.SetFillColor(rgb(s.Fill))
		style = "FD"
	}
	if s.Dash {
		p.f.SetDashPattern([]float64{3 * k, 0.8 * k, 0.6 * k, 0.8 * k}, 0)
		defer p.f.SetDashPattern(nil, 0)
	}
	if s.Radius > 0 {
		cx, cy := at(s.Points[0])
		p.f.Circle(cx, cy, s.Radius*k, style)
		return
	}
	if s.Closed {
		var list []fpdf.PointType
		for _, q := range s.Points {
			px, py := at(q)
			list = append(list, fpdf.PointType{X: px, Y: py})
		}
		p.f.Polygon(list, style)
		return
	}
	p.f.MoveTo(at(s.Points[0]))
	for _, q := range s.Points[1:] {
		p.f.LineTo(at(q))
	}
	p.f.DrawPath("D")
}
