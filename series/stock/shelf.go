package stock

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/hardware"
)

// Kind is what a line of the shelf is.
type Kind string

// The kinds of lines.
const (
	Spool    Kind = "spool"    // one spool of a filament; Amount in grams
	Fastener Kind = "fastener" // pieces of one designation
	Bought   Kind = "bought"   // pieces (or metres) of a bought part
	Build    Kind = "build"    // finished builds of a design; Label is the variant
)

// Kinds are all of them.
var Kinds = []Kind{Spool, Fastener, Bought, Build}

// Line is one line of the shelf.
type Line struct {
	Kind   Kind
	Item   string  // filament of the series, designation, what a bought part is, design
	Label  string  // of a spool: what is written on it, one of a kind; of a build: the variant
	Amount float64 // grams of filament left, pieces, builds
	Pack   float64 // grams on a full spool, pieces in a pack; 0: not known
	Tare   float64 // grams of the empty spool; 0: not known
	Price  float64 // of a full spool or a pack; 0: not known
	Note   string
}

// Unit is what a line's amount is counted in.
func (l Line) Unit() string {
	switch l.Kind {
	case Spool:
		return "g"
	case Build:
		return "builds"
	}
	return "pcs"
}

// Shelf is all of it.
type Shelf struct{ Lines []Line }

// Bounds that keep out slips of the keyboard: no source.
const (
	MostGrams  = 25_000 // on one spool
	MostPieces = 1_000_000
	MostPrice  = 1_000_000
	maxField   = 400 // bytes
)

// Problem is what is wrong with what was asked for, with what to do.
type Problem struct{ Text, Hint string }

func (p *Problem) Error() string { return p.Text }

func problem(hint, format string, a ...any) error { return &Problem{fmt.Sprintf(format, a...), hint} }

// Canonical is the designation under which fasteners are counted: that of the tables, or the text as it stands
// when they do not know it.
func Canonical(text string) string {
	if d, err := hardware.ParseDesignation(text); err == nil {
		return d.String()
	}
	return strings.TrimSpace(text)
}

// Grams is how much there is of a filament on all its spools, and how much on the fullest.
func (s *Shelf) Grams(filament string) (all, fullest float64) {
	for _, l := range s.Lines {
		if l.Kind == Spool && l.Item == filament {
			all, fullest = all+l.Amount, max(fullest, l.Amount)
		}
	}
	return all, fullest
}

// Pieces is how many there are of a fastener or a bought part.
func (s *Shelf) Pieces(kind Kind, item string) float64 {
	n := 0.0
	for _, l := range s.Lines {
		if l.Kind == kind && strings.EqualFold(l.Item, item) {
			n += l.Amount
		}
	}
	return n
}

// Builds is how many finished builds of a design's variant were booked.
func (s *Shelf) Builds(design, variant string) float64 {
	n := 0.0
	for _, l := range s.Lines {
		if l.Kind == Build && l.Item == design && l.Label == variant {
			n += l.Amount
		}
	}
	return n
}

// Last is the newest line of an item that says what a pack of it holds or costs.
func (s *Shelf) Last(kind Kind, item string) (pack, price float64) {
	for _, l := range slices.Backward(s.Lines) {
		if l.Kind != kind || !strings.EqualFold(l.Item, item) {
			continue
		}
		if pack == 0 {
			pack = l.Pack
		}
		if price == 0 {
			price = l.Price
		}
	}
	return pack, price
}

// spool finds a spool by what is written on it, or the only one of a filament.
func (s *Shelf) spool(name string) (*Line, error) {
	var of []*Line
	for i := range s.Lines {
		l := &s.Lines[i]
		if l.Kind != Spool {
			continue
		}
		if l.Label == name {
			return l, nil
		}
		if l.Item == name {
			of = append(of, l)
		}
	}
	switch len(of) {
	case 0:
		return nil, problem("dropwright stock add "+name+" puts one on the shelf; dropwright stock lists those that are there", "no spool of %s is on the shelf", name)
	case 1:
		return of[0], nil
	}
	var names []string
	for _, l := range of {
		names = append(names, fmt.Sprintf("%s (%s)", l.Label, grams(l.Amount)))
	}
	return nil, problem("name one of "+strings.Join(names, ", "), "there are %d spools of %s", len(of), name)
}

// AddSpool puts a spool on the shelf. An empty label gets one: the filament's name, with a number from the second on.
func (s *Shelf) AddSpool(l Line) (Line, error) {
	l.Kind = Spool
	taken := func(label string) bool {
		return slices.ContainsFunc(s.Lines, func(x Line) bool { return x.Kind == Spool && x.Label == label })
	}
	if l.Label == "" {
		l.Label = l.Item
		for n := 2; taken(l.Label); n++ {
			l.Label = fmt.Sprintf("%s-%d", l.Item, n)
		}
	}
	if taken(l.Label) {
		return l, problem("choose another, or dropwright stock weigh "+l.Label+" MASS corrects that one", "a spool with %s written on it is on the shelf already", l.Label)
	}
	if design.Kebab(l.Label) != l.Label {
		return l, problem("write for example "+design.Kebab(l.Label), "a spool's label has lower-case letters, digits and hyphens, found %q", l.Label)
	}
	if err := l.check(); err != nil {
		return l, err
	}
	s.Lines = append(s.Lines, l)
	return l, nil
}

// Weigh sets a spool to what the scale says: gross grams with the spool on it. tare is that of the empty spool,
// 0 for the one that the line keeps; the line keeps a new one. It returns the line before and after.
func (s *Shelf) Weigh(name string, gross, tare float64, sure bool) (was, is Line, err error) {
	l, err := s.spool(name)
	if err != nil {
		return was, is, err
	}
	was = *l
	if tare == 0 {
		tare = l.Tare
	}
	if tare == 0 {
		return was, is, problem("weigh an empty one and add --tare 190g here, or write tare: 190 g at the filament in series.yaml; --net says that the spool was not on the scale",
			"how much does the empty spool of %s weigh? nothing says", l.Label)
	}
	if tare < 0 { // net
		tare, gross = l.Tare, gross+l.Tare
	}
	net := gross - tare
	switch {
	case net < 0:
		return was, is, problem("see that the whole spool was on the scale, and whether the tare is right", "%s with its spool is less than the %s of the empty one", grams(gross), grams(tare))
	case l.Pack > 0 && net > 1.1*l.Pack && !sure: // a spool is sold with a few grams more, not with a tenth
		return was, is, problem("see whether the tare is right; --sure takes it as it is", "%s of filament on a spool of %s", grams(net), grams(l.Pack))
	}
	next := *l
	next.Amount, next.Tare = net, tare
	if err := next.check(); err != nil {
		return was, is, err
	}
	*l = next
	return was, next, nil
}

// Take takes grams off a filament's spools, as a print does: off the open spool that is nearest its end and
// still holds them, else off the smallest that does. Where none holds them the fullest is emptied first, then the
// next; missing is what was not there. What was done is returned line by line, as before and after.
func (s *Shelf) Take(filament string, want float64) (done [][2]Line, missing float64) {
	var of []*Line
	for i := range s.Lines {
		if l := &s.Lines[i]; l.Kind == Spool && l.Item == filament && l.Amount > 0 {
			of = append(of, l)
		}
	}
	open := func(l *Line) bool { return l.Pack > 0 && l.Amount < l.Pack }
	slices.SortStableFunc(of, func(a, b *Line) int {
		switch {
		case open(a) != open(b) && open(a):
			return -1
		case open(a) != open(b):
			return 1
		case a.Amount < b.Amount:
			return -1
		case a.Amount > b.Amount:
			return 1
		}
		return 0
	})
	for _, l := range of {
		if l.Amount >= want {
			was := *l
			l.Amount = tidy(l.Amount - want)
			return [][2]Line{{was, *l}}, 0
		}
	}
	for _, l := range slices.Backward(of) {
		part := min(l.Amount, want)
		was := *l
		l.Amount, want = tidy(l.Amount-part), want-part
		if done = append(done, [2]Line{was, *l}); want <= 0 {
			break
		}
	}
	return done, tidy(want)
}

// TakeFrom takes grams off one spool.
func (s *Shelf) TakeFrom(name string, want float64) (was, is Line, err error) {
	l, err := s.spool(name)
	if err != nil {
		return was, is, err
	}
	if want > l.Amount {
		return was, is, problem("dropwright stock weigh "+l.Label+" MASS sets it to what the scale says", "%s has %s left, and %s are to be taken", l.Label, grams(l.Amount), grams(want))
	}
	was = *l
	l.Amount = tidy(l.Amount - want)
	return was, *l, nil
}

// Give puts grams back on a spool; false when it is not there any more.
func (s *Shelf) Give(label string, back float64) (Line, bool) {
	for i := range s.Lines {
		if l := &s.Lines[i]; l.Kind == Spool && l.Label == label {
			l.Amount = tidy(l.Amount + back)
			return *l, true
		}
	}
	return Line{}, false
}

// Count adds pieces of a fastener, bought part or build to its line, or takes them off when n is negative. A new
// line is made where there is none. pack and price, where not 0, are kept with the line.
func (s *Shelf) Count(kind Kind, item, label string, n, pack, price float64) (was, is Line, err error) {
	at := slices.IndexFunc(s.Lines, func(l Line) bool {
		return l.Kind == kind && strings.EqualFold(l.Item, item) && l.Label == label
	})
	next := Line{Kind: kind, Item: item, Label: label}
	if at >= 0 {
		next = s.Lines[at]
	}
	was = next
	if next.Amount+n < 0 {
		return was, was, problem("dropwright stock lists what is there; dropwright stock add corrects it", "%s of %s are on the shelf, and %s are to be taken", amount(was), item, amount(Line{Kind: kind, Amount: -n}))
	}
	next.Amount = tidy(next.Amount + n)
	if pack != 0 {
		next.Pack = pack
	}
	if price != 0 {
		next.Price = price
	}
	if err := next.check(); err != nil {
		return was, was, err
	}
	if at < 0 {
		s.Lines = append(s.Lines, next)
	} else {
		s.Lines[at] = next
	}
	return was, next, nil
}

// Remove takes a line off the shelf: an empty spool that was thrown away, a thing that is gone.
func (s *Shelf) Remove(name string) (Line, error) {
	for i, l := range s.Lines {
		if l.Kind == Spool && l.Label == name || l.Kind != Spool && (strings.EqualFold(l.Item, name) || strings.EqualFold(l.Item, Canonical(name))) {
			s.Lines = slices.Delete(s.Lines, i, i+1)
			return l, nil
		}
	}
	if l, err := s.spool(name); err == nil {
		return s.Remove(l.Label)
	} else if !strings.HasPrefix(err.Error(), "no spool") {
		return Line{}, err
	}
	return Line{}, problem("dropwright stock lists what is there", "nothing on the shelf is called %q", name)
}
