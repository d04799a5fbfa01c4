package adopt

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
	"dropwright/bundle/manifest"
)

// fastener is one joint of the proposal.
type fastener struct {
	name    string
	joint   *joint // of the first variant; nil: no holes were found for it
	screws  []screwIn
	through []string
	into    string
	insert  *insertIn
	nut     string
	only    []string
	by      origin // of the designation
	countBy origin
	jointBy origin
	bolt    bool // a nut behind it that no pocket holds
	item    *fastening
}

// screwIn is the screw of a fastener in one variant.
type screwIn struct {
	variant string
	m       mention
	count   int
	holes   int // that the meshes have for it
}

// insertIn is the insert of a fastener.
type insertIn struct {
	size          hardware.Size
	outer, length float64
	by            origin
}

// joints finds what is screwed to what, and with what: the lists say which screws there are, the holes where
// they go.
func (r *reader) joints() {
	type given struct {
		j    *joint
		it   *fastening // nil: no list has it
		n    int
		m    mention
		near bool
	}
	var all []given
	for _, v := range r.variantNames() {
		joints := r.jointsIn(v)
		r.found = append(r.found, joints...)
		for _, it := range r.items {
			it.left = it.count
		}
		for _, g := range r.assign(v, joints) {
			all = append(all, given{g.j, g.it, g.n, g.it.m, g.near})
		}
		if !slices.ContainsFunc(r.items, func(f *fastening) bool { return f.m.kind == hardware.KindScrew }) {
			for _, j := range joints { // no list at all: the holes are all there is
				if m, ok := r.guessScrew(j); ok {
					all = append(all, given{j, nil, j.count, m, false})
				}
			}
		}
	}
	byKey := map[string]*fastener{}
	used := map[string]bool{design.Washer: true, design.Board: true}
	for _, p := range r.parts {
		used[p.name] = true
	}
	for _, g := range all {
		key := fmt.Sprintf("%p", g.it)
		if g.j != nil && g.j.part != nil {
			u, _ := g.j.use(g.m.size)
			key = fmt.Sprint(g.j.through, g.j.into, u.role, g.j.kind == boardJoint, g.j.kind == restJoint && g.it != nil, g.j.kind == restJoint && g.it != nil && len(g.it.only) == 0)
			if g.j.kind == restJoint || g.j.kind == fanJoint {
				key += g.m.what()
				if g.it != nil {
					key += g.it.text
				}
			}
		}
		f := byKey[key]
		if f != nil && slices.ContainsFunc(f.screws, func(s screwIn) bool { return s.variant == variantOfJoint(g.j) }) {
			key += fmt.Sprint(len(f.screws), g.m.what())
			f = byKey[key]
		}
		if f == nil {
			f = &fastener{joint: g.j, item: g.it}
			r.compose(f, g.j, g.it, g.m)
			byKey[key] = f
			r.fastened = append(r.fastened, f)
		}
		holes := g.n
		if g.j != nil {
			holes = g.j.count
		}
		f.screws = append(f.screws, screwIn{variantOfJoint(g.j), g.m, g.n, holes})
	}
	for _, f := range r.fastened {
		r.settleVariants(f)
		if used[f.name] && len(f.through) > 0 && f.into != "" {
			f.name = design.Kebab(f.through[0] + "-" + f.into + "-screw")
		}
		f.name = unique(f.name, used)
	}
	r.looseNuts()
}

func variantOfJoint(j *joint) string {
	if j == nil {
		return ""
	}
	return j.variant
}

// settleVariants says for which variants a fastener is.
func (r *reader) settleVariants(f *fastener) {
	if len(r.variants) == 0 {
		return
	}
	if f.joint == nil {
		if f.item != nil {
			f.only = f.item.only
		}
		return
	}
	if len(f.screws) < len(r.variants) {
		for _, s := range f.screws {
			f.only = append(f.only, s.variant)
		}
	}
}

// assignment is screws of a list that go to a joint.
type assignment struct {
	j    *joint
	it   *fastening
	n    int
	near bool
}

// assign gives the screws of the lists to the joints of one variant: the item and the set of joints whose counts
// add up and that fit best go first.
func (r *reader) assign(v string, joints []*joint) []assignment {
	var open []*fastening
	for _, it := range r.items {
		if it.m.kind == hardware.KindScrew && it.inVariant(v) {
			open = append(open, it)
		}
	}
	var out []assignment
	for len(open) > 0 {
		best, at, score := []assignment(nil), -1, 0.0
		for i, it := range open {
			if set, sc, ok := r.bestSet(it, joints); ok && (at < 0 || sc > score+1e-9) {
				best, at, score = set, i, sc
			}
		}
		if at < 0 {
			break
		}
		for _, a := range best {
			a.j.left -= a.n
		}
		out = append(out, best...)
		open = slices.Delete(open, at, at+1)
	}
	// What is left fits no set of holes by its count: the likeliest joint of the size, and the count is in doubt.
	for _, it := range open {
		var best *joint
		score := 1.0
		for _, j := range joints {
			if j.left == 0 {
				continue
			}
			if sc, ok := r.score(it, j); ok && sc > score {
				best, score = j, sc
			}
		}
		if best != nil {
			n := it.count
			if !it.counted {
				n = best.left
			}
			best.left = 0
			out = append(out, assignment{best, it, n, false})
			continue
		}
		if j := r.nearJoint(v, it); j != nil {
			out = append(out, assignment{j, it, max(1, it.count), true})
			continue
		}
		out = append(out, assignment{&joint{variant: v}, it, max(1, it.count), false})
	}
	return out
}

// mostSets bounds the sets of joints that are tried for one item.
const mostSets = 4096

// bestSet is the set of joints whose counts add up to an item's and that suits it best.
func (r *reader) bestSet(it *fastening, joints []*joint) ([]assignment, float64, bool) {
	type scored struct {
		j  *joint
		sc float64
	}
	var list []scored
	for _, j := range joints {
		if j.left <= 0 {
			continue
		}
		if sc, ok := r.score(it, j); ok && sc > -2 {
			list = append(list, scored{j, sc})
		}
	}
	slices.SortStableFunc(list, func(a, b scored) int { return cmp.Compare(b.sc, a.sc) })
	if len(list) > 12 {
		list = list[:12]
	}
	if !it.counted {
		if len(list) == 0 || len(list) > 1 && list[0].sc < list[1].sc+1 {
			return nil, 0, false
		}
		return []assignment{{list[0].j, it, list[0].j.left, false}}, list[0].sc, true
	}
	var best []assignment
	most, tried := -1e9, 0
	var walk func(i, left int, set []assignment, sum float64)
	walk = func(i, left int, set []assignment, sum float64) {
		if tried++; tried > mostSets {
			return
		}
		if left == 0 {
			if sc := sum/float64(len(set)) - 0.3*float64(len(set)-1); sc > most+1e-9 {
				most, best = sc, slices.Clone(set)
			}
			return
		}
		if i == len(list) {
			return
		}
		j := list[i].j
		if j.left <= left {
			walk(i+1, left-j.left, append(set, assignment{j, it, j.left, false}), sum+list[i].sc)
		}
		if j.kind == restJoint && j.left > left { // some of the holes that are left over
			walk(i+1, 0, append(set, assignment{j, it, left, false}), sum+list[i].sc-0.5)
		}
		walk(i+1, left, set, sum)
	}
	walk(0, it.count, nil, 0)
	return best, most, best != nil
}

// score says how well a listed screw suits a joint; ok is false where its size does not.
func (r *reader) score(it *fastening, j *joint) (float64, bool) {
	u, ok := j.use(it.m.size)
	if !ok {
		return 0, false
	}
	sc := map[jointKind]float64{boardJoint: 2, fanJoint: 1.5, pairJoint: 2, singleJoint: 1.5, restJoint: 0.5}[j.kind]
	w := textWords(it.text)
	mine, others := 0, 0
	for _, p := range r.parts {
		if !p.printable() || findWords(w, p.stemmed()) < 0 {
			continue
		}
		if p.name == j.into || slices.Contains(j.through, p.name) {
			mine++
		} else {
			others++
		}
	}
	boardSaid := slices.ContainsFunc(w, func(x string) bool {
		return x == "board" || x == "pcb" || x == "computer" || x == "module" || x == "sbc"
	})
	for _, x := range append(slices.Clone(j.words), j.through...) {
		if j.kind == boardJoint && x != design.Board && findWords(w, textWords(x)) >= 0 {
			mine += 2
		}
		if x == "fan" && slices.Contains(w, "fan") {
			mine++
		}
	}
	if j.kind == boardJoint && boardSaid {
		mine += 2
	} else if boardSaid && j.kind != restJoint {
		others++
	}
	sc += 1.5 * float64(min(mine, 3))
	if others > 0 && mine == 0 {
		sc -= 1.5
	}
	insertSaid := strings.Contains(strings.ToLower(it.text), "insert")
	if insertSaid == (u.role == fit.Insert) {
		sc += 0.5
	}
	if strings.Contains(strings.ToLower(it.text), "tapping") && u.role == fit.Thread {
		sc++
	}
	if it.m.length > 0 {
		if l := r.lengthsOf(j, it.m); l != nil {
			if it.m.length >= l.Min-0.01 && it.m.length <= l.Max+0.01 {
				sc += 2
			} else {
				sc -= 3
			}
		}
	}
	return sc, true
}

// lengthsOf is which lengths of a screw would do in a joint; nil where that is not known.
func (r *reader) lengthsOf(j *joint, m mention) *facts.Lengths {
	if j.part == nil || len(j.through) == 0 && j.kind != fanJoint {
		return nil
	}
	if r.tried == nil {
		r.tried = map[string]*facts.Joint{}
	}
	f := &fastener{}
	r.compose(f, j, nil, m)
	fj := r.try(j.variant, f, m, j.count)
	if fj == nil {
		return nil
	}
	return fj.Fits
}

// try works a joint out as the manifest would have it.
func (r *reader) try(v string, f *fastener, m mention, count int) *facts.Joint {
	w := &yamlWriter{}
	r.trial(w, v, f, m, count)
	text := w.String()
	if j, ok := r.tried[text]; ok {
		return j
	}
	d, _, found := manifest.Decode("trial", "trial.yaml", []byte(text), manifest.Context{})
	var out *facts.Joint
	if d != nil && len(found) == 0 {
		shapes := map[string]*fit.Shape{}
		for _, s := range r.solids {
			if s.shape != nil {
				shapes[s.file] = s.shape
			}
		}
		w := fit.Work(fit.Input{Design: d, House: r.opt.House, Shapes: shapes, Read: fit.FSReader(r.fsys, maxText)})
		if len(w.Joints) > 0 {
			out = &w.Joints[0]
		}
	}
	if r.tried == nil {
		r.tried = map[string]*facts.Joint{}
	}
	r.tried[text] = out
	return out
}
