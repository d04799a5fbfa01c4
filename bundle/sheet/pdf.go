package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"time"

	"codeberg.org/go-fonts/dejavu/dejavusans"
	"codeberg.org/go-fonts/dejavu/dejavusansbold"
	"codeberg.org/go-fonts/dejavu/dejavusansmono"
	"codeberg.org/go-fonts/dejavu/dejavusansoblique"
	"codeberg.org/go-pdf/fpdf"
)

// ErrPaper is the error for a paper that is neither a4 nor letter.
var ErrPaper = errors.New("unknown paper; known: a4, letter")

// papers are the sizes of paper, mm: ISO 216 A4 and ANSI/ASME Y14.1 A (Letter).
var papers = map[string]fpdf.SizeType{"a4": {Wd: 210, Ht: 297}, "letter": {Wd: 215.9, Ht: 279.4}}

// Room of a PDF page, mm. The sides leave 175 mm on A4 for the drawings at true size; no printer of the trade
// needs more than 5 mm.
const (
	pdfSide   = 17.5
	pdfTop    = 16.0
	pdfBottom = 20.0
	pdfFoot   = 11.0 // of the foot's base line above the edge
)

// Sizes of type, pt.
const (
	ptBody  = 9.5
	ptSmall = 8.0
	ptTable = 8.5
	ptNote  = 7.2
	ptH1    = 20.0
	ptH2    = 13.0
	ptH3    = 11.0
)

// pt is a point in mm.
const pt = 25.4 / 72

// PDF prints the sheet on paper "a4" or "letter". The font is embedded; what it cannot set is listed by
// MissingGlyphs and on the last page. Drawings at true size stand in the PDF's own millimetres. Times in the
// file are noon UTC of the revision's date, so that the same sheet gives the same bytes with the same build.
func (s *Sheet) PDF(w io.Writer, image Images, paper string) error {
	size, ok := papers[paper]
	if !ok {
		return fmt.Errorf("paper %q: %w", paper, ErrPaper)
	}
	p := newPDF(s, image, size)
	pages := p.paginate(p.sheet())
	if p.err != nil {
		return fmt.Errorf("printing the sheet of %s as PDF: %w", s.Design, p.err)
	}
	for i, page := range pages {
		p.f.AddPage()
		for _, x := range page {
			x.draw(x.x, x.y)
		}
		p.foot(i+1, len(pages))
	}
	var b bytes.Buffer
	if err := p.f.Output(&b); err != nil {
		return fmt.Errorf("printing the sheet of %s as PDF: %w", s.Design, err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// pdfPrinter lays a sheet out as pieces and paints them.
type pdfPrinter struct {
	f      *fpdf.Fpdf
	s      *Sheet
	t      tongue
	image  Images
	size   fpdf.SizeType
	width  float64 // between the margins
	height float64
	images map[string]*fpdf.ImageInfoType
	err    error
}

func newPDF(s *Sheet, image Images, size fpdf.SizeType) *pdfPrinter {
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: size})
	f.SetCatalogSort(true)
	noon := time.Date(1980, 1, 1, 12, 0, 0, 0, time.UTC)
	if t, err := time.Parse(time.DateOnly, s.Date); err == nil {
		noon = t.Add(12 * time.Hour)
	}
	f.SetCreationDate(noon)
	f.SetModificationDate(noon)
	f.SetProducer("dropwright", true)
	f.SetTitle(fit(join(": ", s.Title, s.VariantTitle)+" "+s.Revision), true)
	f.SetSubject(fit(s.Summary), true)
	f.SetAuthor(fit(s.Maker), true)
	f.SetLang(s.Language)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(pdfSide, pdfTop, pdfSide)
	f.SetCellMargin(0)
	f.SetLineCapStyle("butt")
	f.SetLineJoinStyle("round")
	f.AddUTF8FontFromBytes("sans", "", dejavusans.TTF)
	f.AddUTF8FontFromBytes("sans", "B", dejavusansbold.TTF)
	f.AddUTF8FontFromBytes("sans", "I", dejavusansoblique.TTF)
	f.AddUTF8FontFromBytes("mono", "", dejavusansmono.TTF)
	f.SetFont("sans", "", ptBody)
	return &pdfPrinter{f: f, s: s, t: tongueOf(s.Language), image: image, size: size, width: size.Wd - 2*pdfSide, height: size.Ht - pdfTop - pdfBottom,
		images: map[string]*fpdf.ImageInfoType{}}
}

// fail keeps the first error.
func (p *pdfPrinter) fail(err error) {
	if p.err == nil {
		p.err = err
	}
}

// strip is a piece of the page that is never broken: a line, a row of a table, a picture, a drawing.
type strip struct {
	height   float64
	gap      float64            // space above, dropped at the head of a page
	keepNext bool               // stands on one page with the strip after it
	tie      float64            // what a break after it costs
	again    *strip             // head of a table, repeated when the strip begins a page
	draw     func(x, y float64) // nil: nothing but room
}

// placed is a strip on its page.
type placed struct {
	strip
	x, y float64
}

// foot writes what the page belongs to: loose pages of two revisions must not be mixed.
func (p *pdfPrinter) foot(n, of int) {
	y := p.size.Ht - pdfFoot
	p.f.SetDrawColor(grey(0xc9))
	p.f.SetLineWidth(0.2)
	p.f.Line(pdfSide, y-4, p.size.Wd-pdfSide, y-4)
	p.f.SetFont("sans", "", ptNote)
	p.f.SetTextColor(grey(0x55))
	left := join(", ", p.s.Title, p.s.VariantTitle) + " · " + p.t.say("foot", p.s.Design, p.s.Revision, p.s.Content)
	p.f.Text(pdfSide, y, p.shortened(fit(left), p.width-25))
	right := p.t.say("page n of m", n, of)
	p.f.Text(p.size.Wd-pdfSide-p.f.GetStringWidth(right), y, right)
}

// shortened cuts a text to a width in the present font.
func (p *pdfPrinter) shortened(s string, width float64) string {
	if p.f.GetStringWidth(s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 1 && p.f.GetStringWidth(string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}

func grey(v int) (r, g, b int) { return v, v, v }

// rgb reads #rrggbb; anything else is mid grey.
func rgb(hex string) (r, g, b int) {
	hex = colourOf(hex)
	if _, err := fmt.Sscanf(hex, "#%02x%02x%02x", &r, &g, &b); err != nil {
		return 0x80, 0x80, 0x80
	}
	return r, g, b
}
