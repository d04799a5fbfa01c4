package sheet

import "math"

// What a break costs; no standard, chosen by looking at the sheets of the demo season. The unit is a whole page
// left white: a break in a table costs as much as a third of a page of white.
const (
	costPage   = 0.5  // each page more
	costRow    = 0.12 // a break between rows of a table, cautions, or items to tick
	costPieces = 0.35 // a break between things that explain one another: two drawings of one thing
	costAlone  = 1.5  // a break before the last lines, which would stand on a page alone
	costForced = 10   // a break where there must be none, because what hangs together is taller than a page
)

// paginate puts strips on pages so that the whole costs least: few pages, little white, no break where it hurts.
// A strip taller than a page stands alone.
func (p *pdfPrinter) paginate(strips []strip) [][]placed {
	n := len(strips)
	best := make([]float64, n+1) // of the strips from here on, which begin a page
	next := make([]int, n+1)     // where the page after it begins
	for i := n - 1; i >= 0; i-- {
		best[i] = math.Inf(1)
		y := 0.0
		if strips[i].again != nil {
			y = strips[i].again.height
		}
		for j := i; j < n; j++ {
			if j > i {
				y += strips[j].gap
			}
			y += strips[j].height
			if y > p.height+1e-6 && j > i {
				break
			}
			cost := best[j+1]
			if j+1 < n {
				white := math.Max(0, 1-y/p.height)
				cost += costPage + white*white + strips[j].tie
				if strips[j].keepNext {
					cost += costForced
				}
			}
			if cost <= best[i] { // of two that cost the same, the fuller page
				best[i], next[i] = cost, j+1
			}
		}
	}
	var pages [][]placed
	for i := 0; i < n; i = next[i] {
		var page []placed
		y := 0.0
		if a := strips[i].again; a != nil {
			page = append(page, placed{*a, pdfSide, pdfTop})
			y = a.height
		}
		for j, x := range strips[i:next[i]] {
			if j > 0 {
				y += x.gap
			}
			page = append(page, placed{x, pdfSide, pdfTop + y})
			y += x.height
		}
		for i := range page { // room without ink is not painted
			if page[i].draw == nil {
				page[i].draw = func(x, y float64) {}
			}
		}
		pages = append(pages, page)
	}
	return pages
}

// pairwise lets a run of rows break inside at a cost, but leaves no row alone: the first two stay together, and so do
// the last two.
func pairwise(rows []strip) {
	for i := range rows {
		switch {
		case i == len(rows)-1:
		case i == 0 || i == len(rows)-2:
			rows[i].keepNext = true
		default:
			rows[i].tie = math.Max(rows[i].tie, costRow)
		}
	}
}

// whole keeps strips on one page.
func whole(strips []strip) {
	for i := range strips[:max(0, len(strips)-1)] {
		strips[i].keepNext = true
	}
}
