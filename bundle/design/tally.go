package design

import (
	"strings"

	"dropwright/bundle/finding"
)

// ItemKind says what an item of a tally is.
type ItemKind string

// The kinds of items.
const (
	PartItem     ItemKind = "part"
	BoughtItem   ItemKind = "bought"
	FastenerItem ItemKind = "fastener"
	BoardItem    ItemKind = "board"
	MadeItem     ItemKind = "sub-assembly"
)

// Item is one row of a tally: how many the lists hold and how many the steps use, for one variant.
type Item struct {
	Name     string // "case", "cheek.mirrored", "hatch-screw", "hatch-screw.insert", "board", "finger"
	Base     string // the listed thing it belongs to: "hatch-screw" for "hatch-screw.insert"
	Kind     ItemKind
	Listed   float64
	Used     float64
	At       finding.Place // where it is listed
	Free     bool          // optional or consumable: need not balance
	UsedIn   []Use
	Reaching bool // a whole-fastener entry: using it takes its insert, nut and washers too
}

// Use is one use of an item by a step.
type Use struct {
	Step  int // index into Assembly
	Count float64
	At    finding.Place
}

// Unknown is a name in a step's uses that no list of the variant holds.
type Unknown struct {
	Name string
	At   finding.Place
	Step int
}

// Tally counts, for one variant, what the lists hold and what the steps use. It is the one count: check,
// the bill of materials and the sheet all read it.
//
// A fastener with an insert, a nut or washers gives items of its own for them (name.insert, name.nut,
// name.washer). A step that uses the fastener by its name takes all of them, less what an earlier step
// took by its own name. A step that is done several times counts that often; what it makes is an item too.
func (d *Design) Tally(variant string) (items []Item, unknown []Unknown) {
	index := map[string]int{}
	add := func(it Item) {
		if it.Base == "" {
			it.Base = it.Name
		}
		if _, twice := index[it.Name]; twice {
			return // a duplicate name is manifest's finding; count the first
		}
		index[it.Name] = len(items)
		items = append(items, it)
	}
	for _, p := range d.Parts {
		if !p.Only.Has(variant) || p.Role.V == "reference" {
			continue
		}
		drawn, mirrored := p.CopiesOf(variant)
		free := bool(p.Optional.V) || p.Role.V == "jig" || p.Role.V == "spare"
		name := string(p.Name.V)
		if drawn > 0 || mirrored == 0 {
			add(Item{Name: name, Kind: PartItem, Listed: float64(drawn), At: p.Name.At, Free: free})
		}
		if mirrored > 0 {
			add(Item{Name: name + ".mirrored", Base: name, Kind: PartItem, Listed: float64(mirrored), At: p.Mirrored.At, Free: free})
		}
	}
	if v, ok := d.Variant(variant); ok {
		for _, b := range v.BoardList() {
			add(Item{Name: string(b.Name.V), Kind: BoardItem, Listed: 1, At: b.Profile.At})
		}
	}
	for _, b := range d.Bought {
		if b.Only.Has(variant) {
			add(Item{Name: string(b.Name.V), Kind: BoughtItem, Listed: b.CountOf(variant), At: b.Name.At, Free: bool(b.Optional.V) || bool(b.Consumable.V)})
		}
	}
	for _, f := range d.Fasteners {
		if !f.Only.Has(variant) {
			continue
		}
		name, n := string(f.Name.V), float64(f.CountOf(variant))
		free := bool(f.Optional.V) || bool(f.Consumable.V)
		add(Item{Name: name, Kind: FastenerItem, Listed: n, At: f.Name.At, Free: free, Reaching: true})
		for _, s := range f.Extras() {
			add(Item{Name: name + "." + s.Suffix, Base: name, Kind: FastenerItem, Listed: n * float64(s.Per), At: s.At, Free: free})
		}
	}
	for _, s := range d.Assembly {
		if s.Makes.Set() && s.Only.Has(variant) {
			name := string(s.Makes.V)
			if i, ok := index[name]; ok && items[i].Kind == MadeItem {
				items[i].Listed += float64(s.Repeats())
				continue
			}
			add(Item{Name: name, Kind: MadeItem, Listed: float64(s.Repeats()), At: s.Makes.At})
		}
	}
	byName := map[string]float64{} // sub-items taken by their own name and not yet deducted
	for si, s := range d.Assembly {
		if !s.Only.Has(variant) {
			continue
		}
		for _, u := range s.Uses.Entries {
			v, ok := u.Value.For(variant)
			if !ok {
				continue
			}
			i, known := index[u.Key]
			if !known {
				// An item that `only` gives to other variants may stand in a step that all variants share:
				// where the item does not exist, its use does not either.
				if !d.listedElsewhere(u.Key) {
					unknown = append(unknown, Unknown{Name: u.Key, At: u.KeyAt, Step: si})
				}
				continue
			}
			n := float64(v.V) * float64(s.Repeats())
			take := func(i int, n float64) {
				items[i].Used += n
				items[i].UsedIn = append(items[i].UsedIn, Use{Step: si, Count: n, At: u.KeyAt})
			}
			take(i, n)
			if strings.Contains(u.Key, ".") {
				byName[u.Key] += n
			}
			if !items[i].Reaching {
				continue
			}
			f, _ := d.Fastener(u.Key)
			for _, x := range f.Extras() {
				sub := u.Key + "." + x.Suffix
				want := n * float64(x.Per)
				before := min(byName[sub], want)
				byName[sub] -= before
				if want > before {
					take(index[sub], want-before)
				}
			}
		}
	}
	return items, unknown
}

// ExtraItem is what comes with each of a fastener: its insert, nut, or washers.
type ExtraItem struct {
	Suffix string // "insert", "nut", "washer"
	Per    int    // how many for one fastener
	At     finding.Place
}

// Extras returns what comes with each of a fastener.
func (f Fastener) Extras() []ExtraItem {
	var out []ExtraItem
	if h := f.Into.Held; h != nil {
		if h.Insert != nil {
			out = append(out, ExtraItem{"insert", 1, h.Insert.At})
		}
		if h.Nut.Set() {
			out = append(out, ExtraItem{"nut", 1, h.Nut.At})
		}
	}
	n, at := 0, finding.Place{}
	for _, t := range f.Through {
		if t.V == Washer {
			if n++; n == 1 {
				at = t.At
			}
		}
	}
	if n > 0 {
		out = append(out, ExtraItem{"washer", n, at})
	}
	return out
}

// Washer is the word in `through` for a plain washer under the head or nut.
const Washer = "washer"

// listedElsewhere reports whether some other variant's lists hold the name.
func (d *Design) listedElsewhere(name string) bool {
	base, suffix, dotted := strings.Cut(name, ".")
	if p, ok := d.Part(base); ok {
		return !dotted || suffix == "mirrored" && p.Mirrored.Set()
	}
	if f, ok := d.Fastener(base); ok {
		for _, x := range f.Extras() {
			if x.Suffix == suffix {
				return true
			}
		}
		return !dotted
	}
	if dotted {
		return false
	}
	if _, ok := d.BoughtPart(base); ok {
		return true
	}
	for _, v := range d.Variants {
		for _, b := range v.BoardList() {
			if string(b.Name.V) == name {
				return true
			}
		}
	}
	for _, s := range d.Assembly {
		if string(s.Makes.V) == name {
			return true
		}
	}
	return false
}
