package outlook

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"dropwright/bundle/design"
	"dropwright/series/stock"
)

// fullSpool is what a spool holds when nothing says so: the commonest one. Common practice, no source.
const fullSpool = 1000

// wanting is one coming week with what its design still needs.
type wanting struct {
	week   int
	design string
	from   time.Time // when work on it must begin: things must be there by then
	wants
}

// shelfOf compares what the coming weeks need, in their order, with what is there.
func shelfOf(list []wanting, shelf *stock.Shelf, house *design.House, plan Plan) Shelf {
	kept := shelf != nil
	if !kept {
		shelf = &stock.Shelf{}
	}
	out := Shelf{Kept: kept, Needs: []Need{}, Orders: []Order{}, NoSpool: []Tight{}}
	type key struct{ kind, item string }
	index := map[key]int{}
	packs := map[key]thing{}
	add := func(w wanting, kind, item, unit string, trials, builds float64) {
		k := key{kind, item}
		i, ok := index[k]
		if !ok {
			i = len(out.Needs)
			index[k] = i
			n := Need{Kind: kind, Item: item, Unit: unit, PerWeek: []WeekNeed{}}
			if kind == "filament" {
				n.Have, _ = shelf.Grams(item)
			} else {
				n.Have = shelf.Pieces(stock.Kind(kind), item)
			}
			out.Needs = append(out.Needs, n)
		}
		n := &out.Needs[i]
		n.Need += trials + builds
		if last := len(n.PerWeek) - 1; last >= 0 && n.PerWeek[last].Week == w.week {
			n.PerWeek[last].Trials += trials
			n.PerWeek[last].Builds += builds
		} else {
			n.PerWeek = append(n.PerWeek, WeekNeed{w.week, w.design, trials, builds})
		}
		if n.By.IsZero() && n.Need > n.Have+1e-6 {
			n.By, n.ByWeek = w.from.AddDate(0, 0, -plan.Delivery), w.week
		}
	}
	tight := map[string]*Tight{}
	var tightOrder []string
	for _, w := range list {
		for _, p := range w.prints {
			if p.filament == "" {
				continue
			}
			all := p.grams * float64(p.count)
			if p.use == ForTrial {
				add(w, "filament", p.filament, "g", all, 0)
			} else {
				add(w, "filament", p.filament, "g", 0, all)
			}
			if _, fullest := shelf.Grams(p.filament); fullest > 0 && p.most > fullest {
				k := p.called(w.design)
				if tight[k] == nil {
					tightOrder = append(tightOrder, k)
					tight[k] = &Tight{Week: w.week, Design: w.design, Part: p.part, Filament: p.filament, Fullest: tidy(fullest)}
				}
				if t := tight[k]; p.most > t.Most {
					t.Grams, t.Most = tidy(p.grams), tidy(p.most)
				}
			}
		}
		for _, t := range w.things {
			add(w, t.kind, t.item, t.unit, 0, t.count)
			k := key{t.kind, t.item}
			was := packs[k]
			was.pack, was.price, was.each = math.Max(was.pack, t.pack), math.Max(was.price, t.price), math.Max(was.each, t.each)
			packs[k] = was
		}
	}
	for _, k := range tightOrder {
		out.NoSpool = append(out.NoSpool, *tight[k])
	}
	order := func(kind, item string) int {
		switch kind {
		case "filament":
			return slices.Index(house.FilamentNames(), item)
		case "fastener":
			return 1000
		}
		return 2000
	}
	slices.SortStableFunc(out.Needs, func(a, b Need) int { return order(a.Kind, a.Item) - order(b.Kind, b.Item) })
	for i := range out.Needs {
		n := &out.Needs[i]
		n.Need, n.Have = tidy(n.Need), tidy(n.Have)
		n.Short = tidy(math.Max(0, n.Need-n.Have))
		for j := range n.PerWeek {
			n.PerWeek[j].Trials, n.PerWeek[j].Builds = tidy(n.PerWeek[j].Trials), tidy(n.PerWeek[j].Builds)
		}
		o := Order{Kind: n.Kind, Item: n.Item, Short: n.Short, Unit: n.Unit, By: n.By, Week: n.ByWeek}
		t := slices.IndexFunc(out.NoSpool, func(t Tight) bool { return n.Kind == "filament" && t.Filament == n.Item })
		if n.Short <= 0 && t < 0 {
			continue
		}
		o.fill(shelf, house, packs[key{n.Kind, n.Item}])
		if t >= 0 { // there is enough in all, and no spool that holds the print
			o.Packs = max(o.Packs, 1)
			for _, w := range list {
				if w.week != out.NoSpool[t].Week {
					continue
				}
				if by := w.from.AddDate(0, 0, -plan.Delivery); o.By.IsZero() || by.Before(o.By) {
					o.By, o.Week = by, w.week
				}
			}
		}
		if o.Price != nil {
			c := cents(float64(o.Packs) * *o.Price)
			o.Cost = &c
			out.Cost = cents(out.Cost + c)
		} else {
			out.Unpriced++
		}
		out.Orders = append(out.Orders, o)
	}
	slices.SortStableFunc(out.Orders, func(a, b Order) int { return a.By.Compare(b.By) })
	return out
}

// fill works out packs and price. What is written on the shelf's newest line of the thing goes before what the
// series or the manifest says.
func (o *Order) fill(shelf *stock.Shelf, house *design.House, t thing) {
	price := 0.0
	switch o.Kind {
	case "filament":
		o.Word = "spool"
		pack, paid := shelf.Last(stock.Spool, o.Item)
		f, _ := house.Filament(o.Item)
		o.Of = fullSpool
		switch {
		case pack > 0:
			o.Of = pack
		case f.Spool.Set():
			o.Of = float64(f.Spool.V)
		}
		if price = paid; paid == 0 {
			price = float64(f.PricePerKg.V) * o.Of / 1000
		}
	default:
		pack, paid := shelf.Last(stock.Kind(o.Kind), o.Item)
		o.Word, o.Of, price = "pack", t.pack, t.price
		if pack > 0 {
			o.Of, price = pack, paid
		}
		if o.Of <= 0 {
			o.Word, o.Of, price = "piece", 1, t.each
			if o.Unit != "pcs" {
				o.Word = o.Unit
			}
		}
	}
	o.Packs = int(math.Ceil(o.Short/o.Of - 1e-9))
	if price > 0 {
		price = cents(price)
		o.Price = &price
	}
}

// uncounted says in one sentence which weeks have no design to count.
func uncounted(weeks []int) string {
	var words []string
	for _, w := range weeks {
		words = append(words, fmt.Sprint(w))
	}
	return "prints and parts of the weeks without a design are not counted: " + strings.Join(words, ", ")
}

func cents(x float64) float64 { return math.Round(x*100) / 100 }

// tidy rounds grams and hours to a hundredth: estimates are no better.
func tidy(x float64) float64 { return math.Round(x*100) / 100 }
