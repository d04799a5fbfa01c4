package sheet

import "math"

// noteRoom is the most that a word of a note may ask for, mm: file names may be long and may be cut.
const noteRoom = 24.0

// A small picture stands left of its cell's text, mm.
const (
	thumbWide = 15.0
	thumbTall = 11.0
	thumbGap  = 2.0
)

// columnWidths shares the width out by the columns' shares, but gives each column the room of its longest word, so
// that figures and their units are not torn, as long as the page has it.
func (p *pdfPrinter) columnWidths(t *Table, width, gutter float64) []float64 {
	n := len(t.Columns)
	least := make([]float64, n)
	longest := func(i int, spans []Span, size float64, bold bool, beside float64) {
		for _, w := range p.words(spans, size, bold) {
			least[i] = math.Max(least[i], w.width+beside+0.1)
		}
	}
	for i, c := range t.Columns {
		longest(i, []Span{{Text: c.Title}}, ptNote, true, 0)
		for _, r := range t.Rows {
			if i < len(r.Cells) {
				beside := 0.0
				if r.Cells[i].Picture != "" {
					beside = thumbWide + thumbGap
				}
				longest(i, r.Cells[i].Spans, ptTable, i == 0 || r.Total, beside)
				for _, w := range p.words([]Span{{Text: r.Cells[i].Note}}, ptNote, false) {
					least[i] = math.Max(least[i], beside+math.Min(w.width+0.1, noteRoom))
				}
			}
		}
		if i < n-1 {
			least[i] += gutter
		}
	}
	out := make([]float64, n)
	fixed := make([]bool, n)
	for range n { // each round fixes the columns that are too narrow; at most n rounds
		room, shares := width, 0.0
		for i, c := range t.Columns {
			if fixed[i] {
				room -= least[i]
			} else {
				shares += math.Max(c.Share, 0.1)
			}
		}
		again := false
		for i, c := range t.Columns {
			if fixed[i] {
				out[i] = least[i]
				continue
			}
			out[i] = room * math.Max(c.Share, 0.1) / shares
			if out[i] < least[i] {
				fixed[i], again = true, true
			}
		}
		if !again {
			break
		}
	}
	total := 0.0
	for _, w := range out {
		total += math.Max(w, 1)
	}
	for i := range out { // words too long for the page: everything shrinks, and words are cut
		out[i] = math.Max(out[i], 1) * width / total
	}
	return out
}

// table sets a table: its head again on each page that it reaches, no row broken.
func (p *pdfPrinter) table(t *Table, width float64) []strip {
	const gutter = 2.5
	at := make([]float64, len(t.Columns)+1)
	for i, w := range p.columnWidths(t, width, gutter) {
		at[i+1] = at[i] + w
	}
	type set struct {
		text, note []textLine
		thumb      *strip
		right      float64 // of the text beside a picture
	}
	rowStrip := func(cells []Cell, head, bold bool) strip {
		size, colour := ptTable, ink
		if head {
			size, colour = ptNote, soft
		}
		sets := make([]set, len(cells))
		h := 0.0
		for i, c := range cells {
			if i >= len(t.Columns) {
				break
			}
			w := at[i+1] - at[i]
			if i < len(t.Columns)-1 {
				w -= gutter
			}
			strong := head || bold || i == 0
			if c.Picture != "" {
				if info := p.picture(c.Picture); info != nil {
					x := p.imageStrip(c.Picture, info, thumbWide, thumbTall, 0)
					sets[i].thumb, sets[i].right = &x, thumbWide+thumbGap
					w -= sets[i].right
					h = math.Max(h, x.height)
				}
			}
			sets[i].text = p.setLines(c.Spans, size, w, strong)
			if c.Note != "" {
				sets[i].note = p.setLines([]Span{{Text: c.Note}}, ptNote, w, false)
			}
			h = math.Max(h, float64(len(sets[i].text))*leading(size)+float64(len(sets[i].note))*leading(ptNote))
		}
		h += 2.2
		return strip{height: h, draw: func(x, y float64) {
			for i, s := range sets {
				if i >= len(t.Columns) {
					break
				}
				strong := head || bold || i == 0
				place := func(l textLine) float64 {
					if !t.Columns[i].Right {
						return x + at[i] + s.right
					}
					right := at[i+1]
					if i < len(t.Columns)-1 {
						right -= gutter
					}
					return x + right - l.width
				}
				if s.thumb != nil {
					s.thumb.draw(x+at[i], y+1)
				}
				for k, l := range s.text {
					p.drawLine(l, place(l), y+1+base(size)+float64(k)*leading(size), size, strong, colour)
				}
				for k, l := range s.note {
					p.drawLine(l, place(l), y+1+float64(len(s.text))*leading(size)+base(ptNote)+float64(k)*leading(ptNote), ptNote, false, soft)
				}
			}
			p.f.SetDrawColor(grey(0xc9))
			if head || bold {
				p.f.SetDrawColor(grey(ink))
			}
			p.f.SetLineWidth(0.2)
			if bold {
				p.f.Line(x, y, x+width, y)
			} else {
				p.f.Line(x, y+h, x+width, y+h)
			}
		}}
	}
	var out []strip
	if t.Caption != "" {
		out = append(out, p.para([]Span{{Text: t.Caption}}, ptBody, width, 0, 4, true, ink)...)
	}
	var heads []Cell
	for _, c := range t.Columns {
		heads = append(heads, cell(c.Title))
	}
	head := rowStrip(heads, true, false)
	again := head
	out = append(out, head)
	start := len(out)
	for i, r := range t.Rows {
		x := rowStrip(r.Cells, false, r.Total)
		if i > 0 {
			x.again = &again
		}
		out = append(out, x)
	}
	for i := range out[:start] {
		out[i].keepNext = true
	}
	pairwise(out[start:])
	if sum(out) < p.height*0.4 { // a short table stays whole
		whole(out)
	}
	return out
}
