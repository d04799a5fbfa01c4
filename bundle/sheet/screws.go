package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dropwright/bundle/hardware"
)

// Measures of the 1:1 sheet, mm. The width fits A4 and Letter with 15 mm margins (A4 is 210 wide, Letter
// 215.9); the height leaves room for a heading on Letter (279.4 high).
const (
	trueWidth  = 175.0
	trueHeight = 205.0
	barLength  = 50.0
	cellGap    = 6.0
	rowGap     = 5.0
	textSize   = 3.2
	noteSize   = 2.6
)

// screws is the sheet on which every fastener lies at its true size, so that a builder can sort a bag of
// screws by laying them on the paper.
func (c *composer) screws() []Block {
	var cells []*truePiece
	var unknown []string
	for _, f := range c.bill.Fasteners {
		d, err := hardware.ParseDesignation(f.Designation)
		var p *truePiece
		if err == nil {
			p = c.drawTrue(d)
		}
		if p == nil {
			unknown = append(unknown, f.Designation)
			continue
		}
		p.label = fmt.Sprintf("%d × %s", f.Count, f.Designation)
		p.notes = c.fastenerWords(f)
		cells = append(cells, p)
	}
	if len(cells) == 0 && len(unknown) == 0 {
		return nil
	}
	out := []Block{text(Para, c.say("screws intro"))}
	for i, d := range layTrue(cells, c.say("screws bar"), c.say("screws drawing")) {
		d.ID = fmt.Sprintf("true-%d", i+1)
		out = append(out, Block{Kind: Plan, Drawing: d})
	}
	if len(unknown) > 0 {
		out = append(out, text(Para, c.say("screws unknown", c.list(unknown))))
	}
	return out
}

// truePiece is one fastener drawn with its box; the drawing's origin is its top left corner.
type truePiece struct {
	Drawing
	label string
	notes []string // what it is, what turns it: one line each
}

// layTrue places pieces in rows on as many drawings as they need, each with a scale bar.
func layTrue(cells []*truePiece, bar, title string) []*Drawing {
	var out []*Drawing
	var d *Drawing
	x, y, rowHeight := 0.0, 0.0, 0.0
	fresh := func() {
		d = &Drawing{Title: title, Width: trueWidth, True: true}
		out = append(out, d)
		scaleBar(d, 2, 6, bar)
		x, y, rowHeight = 0, 16, 0
	}
	fresh()
	for _, p := range cells {
		w := math.Max(p.Width, textWidth(p.label, textSize))
		for _, n := range p.notes {
			w = math.Max(w, textWidth(n, noteSize))
		}
		w += cellGap
		w = math.Min(math.Max(w, trueWidth/2), trueWidth) // half the sheet at least, so that pieces stand in columns
		head := 5.5 + 4*float64(len(p.notes))
		h := p.Height + head
		if x > 0 && x+w > trueWidth+0.01 {
			x, y, rowHeight = 0, y+rowHeight+rowGap, 0
		}
		if y+h > trueHeight && y > 16 {
			fresh()
		}
		d.text(textSize, x, y+textSize, "start", p.label)
		d.Shapes[len(d.Shapes)-1].Bold = true
		for i, n := range p.notes {
			d.text(noteSize, x, y+7.6+4*float64(i), "start", n)
		}
		for _, s := range p.Shapes {
			moved := s
			moved.Points = make([]Point, len(s.Points))
			for i, q := range s.Points {
				moved.Points[i] = Point{round(q.X + x), round(q.Y + y + head)}
			}
			d.Shapes = append(d.Shapes, moved)
		}
		x += w
		rowHeight = math.Max(rowHeight, h)
		d.Height = math.Max(d.Height, round(y+rowHeight+1))
	}
	for _, d := range out {
		d.Height = math.Max(d.Height, 16)
	}
	return out
}

// textWidth is about how wide a text is set: 0.58 of its size a letter, measured on DejaVu Sans.
func textWidth(s string, size float64) float64 { return 0.58 * size * float64(len([]rune(s))) }

// scaleBar draws the bar by which a builder sees that the printer did not scale the page.
func scaleBar(d *Drawing, x, y float64, label string) {
	d.line(Wide, x, y, x+barLength, y)
	for i := 0; i <= 5; i++ {
		h := 1.5
		if i == 0 || i == 5 {
			h = 3
		}
		d.line(Wide, x+float64(i)*10, y-h, x+float64(i)*10, y)
	}
	d.text(noteSize, x+barLength+4, y, "start", label)
}

// Room of a piece's box, mm.
const (
	edge    = 1.0 // left of everything, so that no line is cut
	facing  = 4.0 // between end view and side view
	dimDrop = 4.5 // from the piece to its dimension line
)

// drawTrue draws one fastener in end view and side view; nil when its figures are not known.
func (c *composer) drawTrue(d hardware.Designation) *truePiece {
	switch d.Kind {
	case hardware.KindScrew:
		return c.drawScrew(d)
	case hardware.KindNut:
		return c.drawNut(d)
	case hardware.KindWasher:
		return c.drawWasher(d)
	case hardware.KindInsert:
		return c.drawInsert(d)
	case hardware.KindStandoff:
		return c.drawStandoff(d)
	}
	return nil
}

func (c *composer) drawScrew(d hardware.Designation) *truePiece {
	s, ok := hardware.ScrewOf(d.Standard, d.Size)
	if !ok || d.Length <= 0 {
		return nil
	}
	nominal := d.Size.Nominal()
	head := s.Standard.Head
	dk, k := s.HeadDiameter, s.HeadHeight
	if head == hardware.HeadSet {
		dk, k = nominal, 0
	}
	if dk == 0 {
		return nil
	}
	if s.Standard.IncludesHead && k == 0 && head != hardware.HeadSet {
		k = (dk - nominal) / 2 // a 90° cone (ISO 10642, ISO 7046: angle of the head)
	}
	p := &truePiece{}
	mid := dk/2 + 0.5
	if head == hardware.HeadHex {
		dk *= 2 / math.Sqrt(3) // the table gives the width across flats
		mid = dk/2 + 0.5
	}
	drawHeadOn(&p.Drawing, head, s, edge+dk/2, mid, dk)
	x := edge + dk + facing // top of the head
	under := x + k          // its bearing face
	from, to := under, under+d.Length
	if s.Standard.IncludesHead {
		from, to = x, x+d.Length
	}
	drawHead(&p.Drawing, head, x, mid, dk, k, nominal)
	drawShank(&p.Drawing, d, s, under, to, mid)
	p.dashed(Narrow, x-1.5, mid, to+1.5, mid)
	p.dimension(from, to, mid+dk/2, dimDrop, c.mm(d.Length))
	p.Width, p.Height = to+3, mid+dk/2+dimDrop+4
	return p
}

// drawHead draws a head in side view from x to x+k.
func drawHead(p *Drawing, head hardware.Head, x, mid, dk, k, nominal float64) {
	r := dk / 2
	switch head {
	case hardware.HeadSet:
	case hardware.HeadCountersunk, hardware.HeadCountersunkCross:
		p.outline(Wide, x, mid-r, x+k, mid-nominal/2, x+k, mid+nominal/2, x, mid+r)
	case hardware.HeadButton, hardware.HeadButtonCollar, hardware.HeadPan, hardware.HeadPanHexalobular:
		// An arc of an ellipse, cut flat at the top as the drive needs it.
		const steps, last = 12, math.Pi * 0.08 // where the flat begins, from the axis
		arc := func(i int) (depth, radius float64) {
			a := math.Pi/2 - float64(i)/steps*(math.Pi/2-last)
			return k * (1 - math.Cos(a)/math.Cos(last)), r * math.Sin(a)
		}
		var xy []float64
		for i := range steps + 1 {
			depth, radius := arc(i)
			xy = append(xy, x+depth, mid-radius)
		}
		for i := steps; i >= 0; i-- {
			depth, radius := arc(i)
			xy = append(xy, x+depth, mid+radius)
		}
		p.outline(Wide, xy...)
	case hardware.HeadHex:
		flat := r / 2 // seen across corners: the two edges of the middle face
		p.rect(Wide, x, mid-r, k, 2*r)
		p.line(Wide, x, mid-flat, x+k, mid-flat)
		p.line(Wide, x, mid+flat, x+k, mid+flat)
	default:
		b := math.Min(0.08*dk, k/3) // a broken edge
		p.outline(Wide, x, mid-r+b, x+b, mid-r, x+k, mid-r, x+k, mid+r, x+b, mid+r, x, mid+r-b)
	}
}

// drawShank draws the shank with its thread by ISO 6410-1: outside diameter wide, root narrow.
func drawShank(p *Drawing, d hardware.Designation, s hardware.Screw, from, to, mid float64) {
	r := d.Size.Nominal() / 2
	root := r * 0.8
	if t, ok := hardware.ThreadOf(d.Size); ok {
		root = t.Root / 2
	}
	b := r - root // the chamfer of the end
	p.outline(Wide, from, mid-r, to-b, mid-r, to, mid-root, to, mid+root, to-b, mid+r, from, mid+r)
	start := from
	if s.ThreadLength > 0 && to-from > s.ThreadLength+1 {
		start = to - s.ThreadLength
		p.line(Wide, start, mid-r, start, mid+r)
	}
	p.line(Narrow, start, mid-root, to, mid-root)
	p.line(Narrow, start, mid+root, to, mid+root)
	p.line(Narrow, to-b, mid-r, to-b, mid+r)
}

// drawHeadOn draws the head from above with its drive.
func drawHeadOn(p *Drawing, head hardware.Head, s hardware.Screw, x, y, dk float64) {
	if head == hardware.HeadHex {
		p.outline(Wide, polygon(x, y, dk/2, 6, 0)...)
		return
	}
	p.circle(Wide, x, y, dk/2)
	number := strings.TrimSuffix(s.Driver.Size, " mm")
	key, err := strconv.ParseFloat(number, 64)
	switch s.Standard.Drive {
	case hardware.DriveHexSocket:
		if err != nil {
			key = dk * 0.45 // the size is not known: a hexagon that only shows the kind
		}
		p.outline(Wide, polygon(x, y, key/math.Sqrt(3), 6, 0)...)
	case hardware.DriveCross:
		p.line(Thick, x-dk*0.28, y, x+dk*0.28, y)
		p.line(Thick, x, y-dk*0.28, x, y+dk*0.28)
	case hardware.DriveSlot:
		p.line(Thick, x-dk*0.45, y, x+dk*0.45, y)
	case hardware.DriveHexalobular:
		var xy []float64
		for i := range 12 {
			a, r := float64(i)*math.Pi/6, dk*0.28
			if i%2 == 1 {
				r = dk * 0.2
			}
			xy = append(xy, x+r*math.Cos(a), y+r*math.Sin(a))
		}
		p.outline(Wide, xy...)
	}
}

func (c *composer) drawNut(d hardware.Designation) *truePiece {
	n, ok := hardware.NutOf(d.Standard, d.Size)
	if !ok || n.AcrossFlats == 0 || n.Height == 0 {
		return nil
	}
	p := &truePiece{}
	e := n.AcrossFlats * 2 / math.Sqrt(3)
	sides, turn := 6, 0.0
	if n.Square {
		e, sides, turn = n.AcrossFlats*math.Sqrt2, 4, math.Pi/4
	}
	high := math.Max(n.AcrossFlats, n.AcrossFlats)
	mid := high/2 + 0.5
	x := edge + e/2
	p.outline(Wide, polygon(x, mid, e/2, sides, turn)...)
	p.threadHole(d.Size, x, mid)
	side := edge + e + facing
	p.rect(Wide, side, mid-n.AcrossFlats/2, n.Height, n.AcrossFlats)
	if n.Lock && n.ThreadHeight > 0 {
		p.line(Narrow, side+n.ThreadHeight, mid-n.AcrossFlats/2, side+n.ThreadHeight, mid+n.AcrossFlats/2)
	}
	p.dashed(Narrow, side-1.5, mid, side+n.Height+1.5, mid)
	p.dimension(side, side+n.Height, mid+high/2, dimDrop, c.mm(n.Height))
	p.text(noteSize, side+n.Height+4, mid+1, "start", c.say("across flats", c.mm(n.AcrossFlats)))
	p.Width, p.Height = side+n.Height+40, mid+high/2+dimDrop+4
	return p
}

func (c *composer) drawWasher(d hardware.Designation) *truePiece {
	w, ok := hardware.WasherOf(d.Standard, d.Size)
	if !ok || w.Outer == 0 {
		return nil
	}
	p := &truePiece{}
	r := w.Outer / 2
	mid := r + 0.5
	p.circle(Wide, edge+r, mid, r)
	p.circle(Wide, edge+r, mid, w.Hole/2)
	side := edge + w.Outer + facing
	p.rect(Wide, side, mid-r, w.Thickness, w.Outer)
	p.text(noteSize, side+w.Thickness+4, mid+1, "start", c.say("washer size", c.short(w.Outer), c.mm(w.Thickness)))
	p.Width, p.Height = side+w.Thickness+40, w.Outer+2
	return p
}

func (c *composer) drawInsert(d hardware.Designation) *truePiece {
	if d.Outer <= 0 || d.Length <= 0 {
		return nil
	}
	p := &truePiece{}
	r := d.Outer / 2
	mid := r + 0.5
	p.circle(Wide, edge+r, mid, r)
	p.threadHole(d.Size, edge+r, mid)
	side := edge + d.Outer + facing
	p.rect(Wide, side, mid-r, d.Length, d.Outer)
	for i := 1; i < 6; i++ { // the knurl
		x := side + d.Length*float64(i)/6
		p.line(Narrow, x-0.4, mid-r, x+0.4, mid+r)
	}
	p.dimension(side, side+d.Length, mid+r, dimDrop, c.mm(d.Length))
	p.text(noteSize, side+d.Length+4, mid+1, "start", c.say("outside", c.mm(d.Outer)))
	p.Width, p.Height = side+d.Length+40, mid+r+dimDrop+4
	return p
}

func (c *composer) drawStandoff(d hardware.Designation) *truePiece {
	s, ok := hardware.StandoffOf(d.Size)
	flats := d.AcrossFlats
	if flats == 0 && ok && len(s.AcrossFlats) > 0 {
		flats = s.AcrossFlats[0]
	}
	if flats == 0 || d.Length <= 0 {
		return nil
	}
	p := &truePiece{}
	e := flats * 2 / math.Sqrt(3)
	mid := e/2 + 0.5
	p.outline(Wide, polygon(edge+e/2, mid, e/2, 6, math.Pi/6)...)
	p.threadHole(d.Size, edge+e/2, mid)
	x := edge + e + facing
	stud := s.ThreadLength
	if stud == 0 {
		stud = 6 // the commonest stud: practice, no source
	}
	r := d.Size.Nominal() / 2
	males := strings.Count(d.Ends, "male") - strings.Count(d.Ends, "female")
	if males == 2 {
		p.rect(Wide, x, mid-r, stud, 2*r)
		x += stud
	}
	p.rect(Wide, x, mid-e/2, d.Length, e)
	p.line(Wide, x, mid-e/4, x+d.Length, mid-e/4)
	p.line(Wide, x, mid+e/4, x+d.Length, mid+e/4)
	end := x + d.Length
	if males > 0 {
		p.rect(Wide, end, mid-r, stud, 2*r)
		end += stud
	}
	p.dimension(x, x+d.Length, mid+e/2, dimDrop, c.mm(d.Length))
	p.text(noteSize, end+4, mid+1, "start", c.say("across flats", c.mm(flats)))
	p.Width, p.Height = end+40, mid+e/2+dimDrop+4
	return p
}

// threadHole draws an inside thread from above by ISO 6410-1: the core wide, the outside as three quarters of
// a narrow circle.
func (d *Drawing) threadHole(size hardware.Size, x, y float64) {
	r := size.Nominal() / 2
	core := r * 0.83
	if t, ok := hardware.ThreadOf(size); ok {
		core = t.Minor / 2
	}
	d.circle(Wide, x, y, core)
	var xy []float64
	for i := 0; i <= 18; i++ {
		a := float64(i) / 18 * 1.5 * math.Pi
		xy = append(xy, x+r*math.Cos(a), y+r*math.Sin(a))
	}
	d.line(Narrow, xy...)
}

// dimension draws a dimension line below a piece, from one x to another.
func (d *Drawing) dimension(from, to, bottom, drop float64, label string) {
	y := bottom + drop
	d.line(Narrow, from, bottom+0.8, from, y+1.2)
	d.line(Narrow, to, bottom+0.8, to, y+1.2)
	d.line(Narrow, from, y, to, y)
	const tick = 0.7 // oblique strokes in place of arrows, which have no room on a nut (ISO 129-1 allows both)
	for _, x := range []float64{from, to} {
		d.line(Wide, x-tick, y+tick, x+tick, y-tick)
	}
	d.text(noteSize, to+2, y+1, "start", label)
}

func polygon(x, y, r float64, n int, turn float64) []float64 {
	var xy []float64
	for i := range n {
		a := turn + float64(i)*2*math.Pi/float64(n)
		xy = append(xy, x+r*math.Cos(a), y+r*math.Sin(a))
	}
	return xy
}
