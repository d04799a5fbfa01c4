package bom

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
)

// BOM is the bill of materials of one design.
type BOM struct {
	Design   string    `json:"design"`
	Title    string    `json:"title,omitempty"`
	Revision string    `json:"revision"`
	Builds   int       `json:"builds"`
	Currency string    `json:"currency,omitempty"`
	Variants []Variant `json:"variants"`
}

// Variant is the bill of one variant, for all builds.
type Variant struct {
	Variant      string     `json:"variant"`
	Title        string     `json:"title,omitempty"`
	Parts        []Part     `json:"parts"`
	Filament     []Filament `json:"filament"`
	Fasteners    []Fastener `json:"fasteners"`
	Bought       []Bought   `json:"bought"`
	Supplies     []string   `json:"supplies,omitempty"`
	PrintSeconds *float64   `json:"print_seconds,omitempty"`
	Cost         *float64   `json:"cost,omitempty"` // of all that has a price
	Complete     bool       `json:"complete"`       // every row that must be bought or printed has its figures
	Missing      []string   `json:"missing,omitempty"`
}

// Part is one printed part.
type Part struct {
	Name     string   `json:"name"`
	Title    string   `json:"title,omitempty"`
	Copies   int      `json:"copies"`   // as drawn
	Mirrored int      `json:"mirrored"` // as the mirror image
	Role     string   `json:"role"`     // colour role
	Kind     string   `json:"kind"`     // part, jig, spare
	Optional bool     `json:"optional,omitempty"`
	Mesh     string   `json:"mesh"`
	Steps    []int    `json:"steps,omitempty"`   // that take it up, numbered as on the variant's sheet
	Grams    *float64 `json:"grams,omitempty"`   // of one
	Seconds  *float64 `json:"seconds,omitempty"` // of one
	Basis    string   `json:"basis,omitempty"`   // what both rest on: "model", "calibrated", "toolpath"

	GramsLow    *float64 `json:"grams_low,omitempty"`
	GramsHigh   *float64 `json:"grams_high,omitempty"`
	SecondsLow  *float64 `json:"seconds_low,omitempty"`
	SecondsHigh *float64 `json:"seconds_high,omitempty"`
}

// Filament is one colour role with the filament it is counted in.
type Filament struct {
	Role     string   `json:"role"`
	Filament string   `json:"filament"`
	Material string   `json:"material"`
	Colour   string   `json:"colour"`
	Also     []string `json:"also,omitempty"` // other filaments offered for the role
	Grams    *float64 `json:"grams,omitempty"`
	Metres   *float64 `json:"metres,omitempty"`
	Spools   *float64 `json:"spools,omitempty"` // as a share of a full spool
	Cost     *float64 `json:"cost,omitempty"`
	Loads    []Load   `json:"loads,omitempty"`

	// Of all its parts together, as if all erred the same way: the filament to have at hand.
	GramsLow  *float64 `json:"grams_low,omitempty"`
	GramsHigh *float64 `json:"grams_high,omitempty"`
}

// Fastener is one thing of one designation, wherever it is used.
type Fastener struct {
	Designation string   `json:"designation"`
	Kind        string   `json:"kind"` // screw, nut, washer, insert, standoff
	Count       int      `json:"count"`
	Packs       *int     `json:"packs,omitempty"`
	PackOf      *float64 `json:"pack_of,omitempty"`
	Cost        *float64 `json:"cost,omitempty"`
	UsedBy      []string `json:"used_by"`         // names of the joints
	Steps       []int    `json:"steps,omitempty"` // that take it up
	Optional    bool     `json:"optional,omitempty"`
	Note        string   `json:"note,omitempty"` // what keeps the designation from being a standard one
}

// Bought is one bought part, or a board.
type Bought struct {
	Name     string   `json:"name"`
	What     string   `json:"what"`
	Count    float64  `json:"count"`
	Unit     string   `json:"unit,omitempty"`
	Packs    *int     `json:"packs,omitempty"`
	PackOf   *float64 `json:"pack_of,omitempty"`
	Cost     *float64 `json:"cost,omitempty"`
	Optional bool     `json:"optional"`
	Kind     string   `json:"kind"`            // "bought" or "board"
	Steps    []int    `json:"steps,omitempty"` // that take it up
	Instead  []string `json:"instead,omitempty"`
}

// MaxBuilds is the most builds a bill is worked out for.
const MaxBuilds = 100_000

// Compute works out the bill for some variants and a number of builds. boardTitle names a board profile; an
// empty answer leaves the profile's id.
func Compute(d *design.Design, f *facts.Design, house *design.House, variants []string, builds int, boardTitle func(profile string) string) BOM {
	out := BOM{Design: d.Folder, Title: string(d.Title.V), Revision: d.Revision().String(), Builds: builds, Currency: string(house.Currency.V), Variants: []Variant{}}
	for _, v := range variants {
		out.Variants = append(out.Variants, one(d, f, house, v, builds, boardTitle))
	}
	return out
}

func one(d *design.Design, f *facts.Design, house *design.House, v string, builds int, boardTitle func(string) string) Variant {
	out := Variant{Variant: v, Parts: []Part{}, Filament: []Filament{}, Fasteners: []Fastener{}, Bought: []Bought{}}
	va, _ := d.Variant(v)
	out.Title = string(va.Title.V)
	missing := map[string]bool{}
	lack := func(what string) { missing[what] = true }
	out.Parts, out.Filament = printed(d, f, house, v, builds, lack)
	seconds, known := 0.0, len(out.Parts) > 0
	for _, p := range out.Parts {
		if p.Optional {
			continue
		}
		if p.Seconds == nil {
			known = false
			continue
		}
		seconds += *p.Seconds * float64(p.Copies+p.Mirrored)
	}
	if known {
		out.PrintSeconds = &seconds
	}
	items, _ := d.Tally(v)
	out.Fasteners = fasteners(d, items, builds, v)
	out.Bought = bought(d, va, items, builds, lack, boardTitle)
	number := numbers(d, v)
	for i := range out.Parts {
		p := &out.Parts[i]
		p.Steps = takenIn(items, number, func(it design.Item) bool { return it.Kind == design.PartItem && it.Base == p.Name })
	}
	for i := range out.Fasteners {
		f := &out.Fasteners[i]
		f.Steps = takenIn(items, number, func(it design.Item) bool {
			x, ok := d.Fastener(it.Base)
			if !ok || it.Kind != design.FastenerItem {
				return false
			}
			des, _, _ := Designation(x, it, v)
			return des == f.Designation
		})
	}
	for i := range out.Bought {
		b := &out.Bought[i]
		b.Steps = takenIn(items, number, func(it design.Item) bool {
			return (it.Kind == design.BoughtItem || it.Kind == design.BoardItem) && it.Name == b.Name
		})
	}
	for _, s := range d.Supplies {
		if s.Only.Has(v) {
			out.Supplies = append(out.Supplies, string(s.What.V))
		}
	}
	cost, any := 0.0, false
	add := func(c *float64) {
		if c != nil {
			cost, any = cost+*c, true
		}
	}
	for _, x := range out.Filament {
		add(x.Cost)
	}
	for _, x := range out.Fasteners {
		if !x.Optional {
			add(x.Cost)
			if x.Cost == nil {
				lack("price of " + x.Designation)
			}
		}
	}
	for _, x := range out.Bought {
		if !x.Optional {
			add(x.Cost)
		}
	}
	if any {
		cost = cents(cost)
		out.Cost = &cost
	}
	for m := range missing {
		out.Missing = append(out.Missing, m)
	}
	slices.Sort(out.Missing)
	out.Complete = len(out.Missing) == 0
	return out
}

// numbers gives the steps of a variant their numbers on its sheet, by index into Assembly; 0 for those it does not have.
func numbers(d *design.Design, v string) []int {
	out, n := make([]int, len(d.Assembly)), 0
	for i, s := range d.Assembly {
		if s.Only.Has(v) {
			n++
			out[i] = n
		}
	}
	return out
}

// takenIn are the numbers of the steps that take up any of the items that match, each once, in order.
func takenIn(items []design.Item, number []int, match func(design.Item) bool) []int {
	var out []int
	for _, it := range items {
		if !match(it) {
			continue
		}
		for _, u := range it.UsedIn {
			if n := number[u.Step]; u.Count > 0 && n > 0 && !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	slices.Sort(out)
	return out
}

func cents(x float64) float64 { return math.Round(x*100) / 100 }

func printed(d *design.Design, f *facts.Design, house *design.House, v string, builds int, lack func(string)) ([]Part, []Filament) {
	parts, fil := []Part{}, []Filament{}
	index := map[string]int{}
	unknown := map[string]bool{}
	for _, p := range d.PartsOf(v) {
		name, role := string(p.Name.V), string(p.Colour.V)
		drawn, mirrored := p.CopiesOf(v)
		kind := string(p.Role.V)
		if kind == "" {
			kind = "part"
		}
		row := Part{Name: name, Title: string(p.Title.V), Copies: drawn * builds, Mirrored: mirrored * builds, Role: role, Kind: kind, Optional: bool(p.Optional.V)}
		if kind == "jig" { // one serves for all builds
			row.Copies, row.Mirrored = drawn, mirrored
		}
		if m, ok := p.Mesh.For(v); ok {
			row.Mesh = string(m.V)
		}
		i, ok := index[role]
		if !ok && role != "" {
			i = len(fil)
			index[role] = i
			fil = append(fil, filamentOf(d, house, role))
		}
		if pf, ok := f.Part(name, v); ok && pf.Estimate != nil {
			e := *pf.Estimate // rows do not share their figures with the facts
			g := e.Grams
			row.Grams, row.Seconds, row.Basis = &e.Grams, &e.Seconds, e.Basis
			row.GramsLow, row.GramsHigh, row.SecondsLow, row.SecondsHigh = &e.GramsLow, &e.GramsHigh, &e.SecondsLow, &e.SecondsHigh
			if role != "" && !row.Optional {
				n := float64(row.Copies + row.Mirrored)
				plus(&fil[i].Grams, g*n)
				plus(&fil[i].Metres, e.Metres*n)
				plus(&fil[i].GramsLow, e.GramsLow*n)
				plus(&fil[i].GramsHigh, e.GramsHigh*n)
			}
		} else if !row.Optional {
			why := ""
			if ok && pf.Unestimated != "" {
				why = " (" + pf.Unestimated + ")"
			}
			lack("grams and time of " + name + why)
			unknown[role] = true
		}
		parts = append(parts, row)
	}
	for i := range fil {
		x := &fil[i]
		if unknown[x.Role] { // a sum with a part missing is no sum
			x.Grams, x.Metres, x.GramsLow, x.GramsHigh = nil, nil, nil, nil
			continue
		}
		x.Loads = loads(d, f, house, v, x.Role, parts)
		fl, ok := house.Filament(x.Filament)
		if x.Grams == nil || !ok {
			continue
		}
		spool := float64(fl.Spool.Or(1000)) // 1 kg is the commonest spool: common practice, no source
		s := *x.Grams / spool
		x.Spools = &s
		if fl.PricePerKg.Set() {
			c := cents(*x.Grams / 1000 * float64(fl.PricePerKg.V))
			x.Cost = &c
		} else {
			lack("price of " + x.Filament)
		}
	}
	return parts, fil
}

func plus(to **float64, x float64) {
	if *to == nil {
		*to = new(float64)
	}
	**to += x
}

func filamentOf(d *design.Design, house *design.House, role string) Filament {
	out := Filament{Role: role}
	pal, _ := d.Colours.Get(role)
	for i, n := range pal.Items {
		if i == 0 {
			out.Filament = string(n.V)
			continue
		}
		out.Also = append(out.Also, string(n.V))
	}
	if f, ok := house.Filament(out.Filament); ok {
		out.Material, out.Colour = string(f.Material.V), string(f.Colour.V)
	}
	return out
}

// fasteners merges what has one designation, wherever it is used.
func fasteners(d *design.Design, items []design.Item, builds int, v string) []Fastener {
	out := []Fastener{}
	index := map[string]int{}
	type packing struct {
		size, price float64
		each        float64
	}
	pack := map[string]packing{}
	for _, it := range items {
		if it.Kind != design.FastenerItem || it.Listed == 0 {
			continue
		}
		f, ok := d.Fastener(it.Base)
		if !ok {
			continue
		}
		des, kind, note := Designation(f, it, v)
		i, ok := index[des]
		if !ok {
			i = len(out)
			index[des] = i
			out = append(out, Fastener{Designation: des, Kind: kind, UsedBy: []string{}, Optional: true, Note: note})
		}
		out[i].Count += int(math.Round(it.Listed)) * builds
		out[i].Optional = out[i].Optional && it.Free
		if !slices.Contains(out[i].UsedBy, it.Base) {
			out[i].UsedBy = append(out[i].UsedBy, it.Base)
		}
		if it.Name == it.Base {
			pk := pack[des]
			if f.Pack.Set() {
				pk.size, pk.price = float64(f.Pack.V), float64(f.PackPrice.V)
			}
			if f.Price.Set() {
				pk.each = float64(f.Price.V)
			}
			pack[des] = pk
		}
	}
	for i := range out {
		x := &out[i]
		pk := pack[x.Designation]
		x.Packs, x.PackOf, x.Cost = packed(float64(x.Count), pk.size, pk.price, pk.each)
	}
	slices.SortStableFunc(out, func(a, b Fastener) int { return cmp.Compare(kindOrder(a.Kind), kindOrder(b.Kind)) })
	return out
}

func kindOrder(k string) int {
	return slices.Index([]string{"screw", "nut", "washer", "insert", "standoff"}, k)
}

// packed works out packs and cost: whole packs when a pack size is known.
func packed(count, size, packPrice, each float64) (packs *int, of, cost *float64) {
	if size > 0 {
		n := int(math.Ceil(count/size - 1e-9))
		packs, of = &n, &size
		if packPrice > 0 {
			c := cents(float64(n) * packPrice)
			return packs, of, &c
		}
	}
	if each > 0 {
		c := cents(count * each)
		cost = &c
	}
	return packs, of, cost
}

// Designation is the standard designation of an item of a fastener, its kind, and a note when there is no
// standard one.
func Designation(f design.Fastener, it design.Item, variant string) (text, kind, note string) {
	written, _ := f.Designation(variant)
	screw, err := hardware.ScrewDesignation(string(written.V), string(f.Head.V), string(f.Drive.V))
	size := screw.Size
	switch it.Name {
	case it.Base:
		if f.Standoff.Set() {
			s, err := hardware.ParseDesignation(strings.TrimSuffix("standoff "+string(written.V)+", "+string(f.Ends.V), ", "))
			if err != nil {
				return "standoff " + string(written.V), "standoff", err.Error()
			}
			return s.String(), "standoff", ""
		}
		if err != nil {
			return string(written.V), "screw", err.Error()
		}
		return screw.String(), "screw", ""
	case it.Base + ".nut":
		n, err := hardware.NutDesignation(string(f.Into.Held.Nut.V), size)
		if err != nil {
			return string(f.Into.Held.Nut.V), "nut", err.Error()
		}
		return n.String(), "nut", ""
	case it.Base + ".washer":
		return hardware.WasherDesignation(size).String(), "washer", ""
	case it.Base + ".insert":
		i := f.Into.Held.Insert
		text := fmt.Sprintf("insert %s, outer %v, length %v", i.Thread.V, float64(i.Outer.V), float64(i.Length.V))
		if d, err := hardware.ParseDesignation(text); err == nil {
			return d.String(), "insert", ""
		}
		return text, "insert", "not a size of the insert table"
	}
	return it.Name, "screw", "unknown item"
}

func bought(d *design.Design, va design.Variant, items []design.Item, builds int, lack func(string), boardTitle func(string) string) []Bought {
	out := []Bought{}
	for _, it := range items {
		switch it.Kind {
		case design.BoardItem:
			for _, b := range va.BoardList() {
				if string(b.Name.V) != it.Name {
					continue
				}
				what := string(b.Profile.V) // boards stand in the list so that one order is enough
				if t := boardTitle(what); t != "" {
					what = t
				}
				out = append(out, Bought{Name: it.Name, What: what, Count: float64(builds), Kind: "board"})
				lack("price of " + it.Name)
			}
		case design.BoughtItem:
			b, _ := d.BoughtPart(it.Name)
			row := Bought{Name: it.Name, What: whatText(b), Count: it.Listed * float64(builds), Unit: string(b.Unit.V), Optional: bool(b.Optional.V), Kind: "bought"}
			row.Packs, row.PackOf, row.Cost = packed(row.Count, float64(b.Pack.V), float64(b.PackPrice.V), float64(b.Price.V))
			if row.Cost == nil && !row.Optional {
				lack("price of " + it.Name)
			}
			for _, x := range b.Instead {
				row.Instead = append(row.Instead, instead(x))
			}
			out = append(out, row)
		}
	}
	return out
}

// whatText is what to order, with the size in words when one is given.
func whatText(b design.Bought) string {
	if s := SizeText(b.Size); s != "" {
		return string(b.What.V) + ", " + s
	}
	return string(b.What.V)
}

func instead(x design.Instead) string {
	text := string(x.What.V)
	if s := SizeText(x.Size); s != "" {
		if text != "" {
			text += ", "
		}
		text += s
	}
	return text
}

// SizeText writes an outer size in words, so that nothing hangs on the order of figures.
func SizeText(s design.Size) string {
	text := ""
	add := func(name string, set bool, v fmt.Stringer) {
		if !set {
			return
		}
		if text != "" {
			text += ", "
		}
		text += name + " " + v.String()
	}
	add("diameter", s.Diameter.Set(), s.Diameter.V)
	add("bore", s.Bore.Set(), s.Bore.V)
	add("length", s.Length.Set(), s.Length.V)
	add("width", s.Width.Set(), s.Width.V)
	add("height", s.Height.Set(), s.Height.V)
	return text
}
