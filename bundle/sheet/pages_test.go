package sheet

import (
	"slices"
	"strings"
	"testing"
)

// laid are the pages of a sheet before they are painted.
func laid(t *testing.T, s *Sheet, image Images, paper string) (*pdfPrinter, [][]placed) {
	t.Helper()
	p := newPDF(s, image, papers[paper])
	pages := p.paginate(p.sheet())
	if p.err != nil {
		t.Fatal(p.err)
	}
	return p, pages
}

// filled is how much of a page's height is used, 0 to 1.
func filled(p *pdfPrinter, page []placed) float64 {
	last := page[len(page)-1]
	return (last.y + last.height - pdfTop) / p.height
}

// TestPagesOfTheSeason holds the season's sheets against what readers complained of: a single caution or row on a
// page, pages half empty, a board away from its table.
func TestPagesOfTheSeason(t *testing.T) {
	everyVariant(t, func(t *testing.T, name, variant string) {
		for _, paper := range []string{"a4", "letter"} {
			in, images := demo(t, name, variant, "en")
			if paper == "letter" { // with a picture of each part, as bundles have
				in.PartImage = func(string, bool) string { return string(in.Design.Photos[0].File.V) }
			}
			s := Compose(in)
			for _, x := range s.Sections {
				board := slices.IndexFunc(x.Blocks, func(b Block) bool { return b.Kind == Plan && strings.HasPrefix(b.Drawing.ID, "board-") })
				if board >= 0 && (board == 0 || x.Blocks[board-1].Kind != Grid) {
					t.Errorf("the drawing of a board does not follow its table in %q", x.ID)
				}
			}
			p, pages := laid(t, s, images, paper)
			for n, page := range pages[:len(pages)-1] {
				if x := page[len(page)-1]; x.keepNext {
					t.Errorf("%s: page %d ends inside of what stands together", paper, n+1)
				}
				if f := filled(p, page); f < 0.5 {
					t.Errorf("%s: page %d of %d is filled to %.0f %%", paper, n+1, len(pages), f*100)
				}
			}
		}
	})
}

// TestPaginateBreaks: rows are broken off in pairs, a chain that fits moves as one, what is taller than a page
// stands alone or is broken.
func TestPaginateBreaks(t *testing.T) {
	p := &pdfPrinter{height: 100}
	rows := func(n int, h float64) []strip {
		out := make([]strip, n)
		for i := range out {
			out[i].height = h
		}
		return out
	}
	table := func(n int, h float64) []strip {
		out := rows(n, h)
		pairwise(out)
		return out
	}
	chain := rows(6, 10)
	whole(chain)
	for _, c := range []struct {
		name   string
		strips []strip
		want   []int // strips on each page
	}{
		{"nothing", nil, nil},
		{"one page", rows(10, 10), []int{10}},
		{"a full page and one line", rows(11, 10), []int{10, 1}},
		{"eleven rows", table(11, 10), []int{9, 2}},
		{"a first row that would stand alone", append(rows(9, 10), table(4, 10)...), []int{9, 4}},
		{"a chain", append(rows(5, 10), chain...), []int{5, 6}},
		{"taller than a page", append(rows(1, 10), strip{height: 150}, strip{height: 10}), []int{1, 1, 1}},
		{"a chain taller than a page", func() []strip { c := rows(12, 10); whole(c); return c }(), []int{10, 2}},
	} {
		var got []int
		for _, page := range p.paginate(c.strips) {
			got = append(got, len(page))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: strips on pages %v, want %v", c.name, got, c.want)
		}
	}
}
