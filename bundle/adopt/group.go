package adopt

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/same"
)

// part is one printed part on its way into the manifest.
type part struct {
	name  string
	title string
	all   *solid            // one mesh for all variants
	each  map[string]*solid // or one for each
	only  []string          // variants that have it; nil: all
	pair  *solid            // the file of its mirror image, where there is one

	tokens   []string
	named    origin // how its name and mesh were found
	copies   int
	copiesBy origin
	mirrored int
	mirrorBy origin
	colour   string // as the folder calls it
	colourBy origin
	role     string
	roleBy   origin
	print    wish
	printBy  origin
	from     []string
	toolpath string
	remarks  []string // other files of the same thing
	entries  []*entry
	nameSays int // copies that its file's name states
}

// leftOut is a mesh that became no part, and why.
type leftOut struct {
	file string
	why  string
}

// meshIn is the mesh of a part in a variant, nil where it has none.
func (p *part) meshIn(variant string) *solid {
	if p.all != nil {
		if p.only == nil || slices.Contains(p.only, variant) {
			return p.all
		}
		return nil
	}
	return p.each[variant]
}

// solids are the meshes of a part, each once, in order of their variants.
func (p *part) solids(variants []*variant) []*solid {
	if p.all != nil {
		return []*solid{p.all}
	}
	var out []*solid
	for _, v := range variants {
		if s := p.each[v.name]; s != nil && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// printable reports whether the part is printed as part of the thing.
func (p *part) printable() bool { return p.role == "" || p.role == "part" }

func (p *part) total() int { return max(1, p.copies+p.mirrored) }

// origin is where a value came from and how sure it is.
type origin struct {
	from string
	sure Certainty
}

// Certainty says how sure a proposed value is.
type Certainty int

// The three degrees; see the package comment.
const (
	Guess Certainty = iota
	Likely
	Sure
)

// String is the word that stands in the manifest's comments.
func (c Certainty) String() string { return [...]string{"guess", "likely", "sure"}[c] }

// candidate is a mesh that may be a part, with the files that are the same thing again.
type candidate struct {
	*solid
	key    string // its stem
	again  []*solid
	pair   *solid
	alias  *candidate // of the same shape, under another name
	inside []string   // other parts that it shows
}

// mostCompares bounds the pairs of meshes that are laid upon one another; names and sizes sort out the rest.
const mostCompares = 600

// group sorts the meshes into parts.
func (r *reader) group() {
	cands := r.shapes()
	r.assemblies(cands)
	cands = r.states(cands)
	r.lookAtHoles(cands)
	r.tellVariants(cands)
	r.name(cands)
	r.companions()
}

// preferred orders files of one shape by which is likelier the one that counts.
func (r *reader) preferred(a, b *solid) int {
	yes := func(x, y bool) int {
		switch {
		case x == y:
			return 0
		case x:
			return -1
		}
		return 1
	}
	return cmp.Or(yes(r.isListed(a.file), r.isListed(b.file)), -newer(a.name, b.name), cmp.Compare(a.name.noise, b.name.noise), cmp.Compare(b.age, a.age),
		cmp.Compare(strings.Count(a.file, "/"), strings.Count(b.file, "/")), cmp.Compare(len(a.file), len(b.file)), cmp.Compare(a.file, b.file))
}

// isListed reports whether a list names the file as it is written.
func (r *reader) isListed(file string) bool {
	base := strings.ToLower(path.Base(file))
	for _, e := range r.entries {
		for _, f := range e.files {
			f = strings.ToLower(path.Base(f))
			if f == base || f == strings.TrimSuffix(base, path.Ext(base)) {
				return true
			}
		}
	}
	return false
}

// shapes puts files of one shape together: the same bytes, the same surface, moved or turned, or mirrored.
func (r *reader) shapes() []*candidate {
	order := slices.Clone(r.solids)
	slices.SortStableFunc(order, r.preferred)
	var out []*candidate
	byHash := map[string]*candidate{}
	compares := 0
	for _, s := range order {
		c := &candidate{solid: s, key: s.name.stem()}
		if s.facts.Error != "" {
			out = append(out, c) // told by check when it is a part
			continue
		}
		if d := byHash[s.facts.SHA256]; d != nil && s.facts.SHA256 != "" {
			r.again(d, c, same.Same, &out)
			continue
		}
		var of *candidate
		kind := same.Changed
		for _, d := range out {
			if d.alias != nil || d.facts.Error != "" || !s.sig.Near(d.sig) {
				continue
			}
			if s.print == d.print {
				of, kind = d, same.Same
				break
			}
			if compares++; compares > mostCompares {
				break
			}
			if k := r.compare(d.file, s.file); k != same.Changed {
				of, kind = d, k
				break
			}
		}
		if of != nil {
			r.again(of, c, kind, &out)
			continue
		}
		byHash[s.facts.SHA256] = c
		out = append(out, c)
	}
	return out
}

func (r *reader) compare(a, b string) same.Kind {
	_, x := measure.Solid(r.fsys, a)
	_, y := measure.Solid(r.fsys, b)
	if x == nil || y == nil {
		return same.Changed
	}
	return same.Compare(x, y, same.Options{}).Kind
}

// symmetric reports whether a mesh is its own mirror image.
func (r *reader) symmetric(file string) bool {
	_, m := measure.Solid(r.fsys, file)
	if m == nil {
		return false
	}
	k := same.Compare(m, mesh.Mirror(m), same.Options{}).Kind
	return k != same.Changed && k != same.Mirrored
}

// again adds a file to the candidate whose shape it has.
func (r *reader) again(d, c *candidate, kind same.Kind, out *[]*candidate) {
	sides := d.name.side != c.name.side && (d.name.side != "" && c.name.side != "" || c.name.mirrored != d.name.mirrored)
	switch {
	case kind == same.Mirrored && (d.key == c.key || d.pair == nil && similar(d.key, c.key)):
		if d.pair == nil {
			d.pair = c.solid
		} else {
			d.again = append(d.again, c.solid)
		}
	case kind == same.Mirrored:
		*out = append(*out, c) // another thing that happens to be the mirror image
	case d.key == c.key && sides:
		if r.symmetric(d.file) {
			d.pair = c.solid // either serves on both sides
			return
		}
		r.say("side-twice", r.placeOf(c.file), fmt.Sprintf("%s and %s are the same shape; one should be the mirror image of the other", d.file, c.file), "export the other side again; as drafted, the part is printed mirrored for it")
		d.pair = c.solid
	case d.key == c.key:
		d.again = append(d.again, c.solid)
	default:
		c.alias = d
		*out = append(*out, c)
	}
}

// similar tells whether two stems differ in one word at most.
func similar(a, b string) bool {
	x, y := strings.Split(a, "-"), strings.Split(b, "-")
	p, q := overlap(x, y)
	return p+q >= 1 && len(x)-p-q <= 1 && len(y)-p-q <= 1
}

// overlap is how many words two names share at their beginning and, of the rest, at their end.
func overlap(a, b []string) (prefix, suffix int) {
	n := min(len(a), len(b))
	for prefix < n && a[prefix] == b[prefix] {
		prefix++
	}
	for suffix < n-prefix && a[len(a)-1-suffix] == b[len(b)-1-suffix] {
		suffix++
	}
	return prefix, suffix
}

// assemblies finds meshes that show several parts at once: their bodies have the volumes of other files.
func (r *reader) assemblies(cands []*candidate) {
	for _, c := range cands {
		if len(c.bodies) < 2 {
			continue
		}
		var inside []string
		matched := 0
		for _, b := range c.bodies {
			hit := ""
			for _, d := range cands {
				if d == c || d.facts.Volume == nil || len(d.bodies) > 1 {
					continue
				}
				if v := *d.facts.Volume; v > 0 && b.volume > v*0.9995 && b.volume < v*1.0005 {
					hit = d.file
					break
				}
			}
			if hit != "" {
				matched++
				if !slices.Contains(inside, hit) {
					inside = append(inside, hit)
				}
			}
		}
		if matched >= 2 && matched*2 >= len(c.bodies) || len(inside) >= 2 {
			c.inside = inside
		}
	}
}

// states leaves of several states of one thing the newest.
func (r *reader) states(cands []*candidate) []*candidate {
	byKey := map[string][]*candidate{}
	var keys []string
	for _, c := range cands {
		k := c.key + "\x00" + c.name.side
		if c.pair != nil {
			k = c.key + "\x00"
		}
		if byKey[k] == nil {
			keys = append(keys, k)
		}
		byKey[k] = append(byKey[k], c)
	}
	var out []*candidate
	for _, k := range keys {
		list := byKey[k]
		if len(list) > 1 && r.statesOfOne(list) {
			slices.SortStableFunc(list, func(a, b *candidate) int {
				return cmp.Or(-newer(a.name, b.name), cmp.Compare(b.age, a.age), r.preferred(a.solid, b.solid))
			})
			for _, old := range list[1:] {
				why := "an older state of " + list[0].file + " by its name"
				if newer(list[0].name, old.name) == 0 {
					why = "an older state of " + list[0].file + " by the history"
				}
				r.leftOut = append(r.leftOut, leftOut{old.file, why})
				for _, a := range old.again {
					r.leftOut = append(r.leftOut, leftOut{a.file, "the same shape as " + old.file})
				}
			}
			list = list[:1]
		}
		out = append(out, list...)
	}
	for _, c := range out {
		if c.alias != nil && !slices.Contains(out, c.alias) {
			c.alias = nil // an older state of another thing happens to have its shape
		}
	}
	slices.SortStableFunc(out, func(a, b *candidate) int { return cmp.Compare(a.file, b.file) })
	return out
}

// statesOfOne tells whether files of one stem are states of one thing: a name says so, or the history has one of
// them changed after the others. Files in folders of their own without either are variants.
func (r *reader) statesOfOne(list []*candidate) bool {
	revised, colours := false, map[string]bool{}
	for _, c := range list {
		revised = revised || c.name.revised()
		colours[c.name.colour] = true
	}
	if revised {
		return true
	}
	if len(colours) == len(list) && len(list) > 1 {
		return false
	}
	dirs := map[string]bool{}
	for _, c := range list {
		dirs[path.Dir(c.file)] = true
	}
	if len(dirs) == len(list) {
		return false
	}
	return true
}

// name makes parts of what is left.
func (r *reader) name(cands []*candidate) {
	drop := commonPrefix(cands)
	used := map[string]bool{design.Washer: true, design.Board: true}
	byBase := map[string]*part{}
	for _, c := range cands {
		if c.alias != nil && !(r.isListed(c.file) && r.isListed(c.alias.file)) {
			r.leftOut = append(r.leftOut, leftOut{c.file, "the same shape as " + c.alias.file})
			continue
		}
		tokens, v := r.withoutVariant(c)
		if len(tokens) > drop {
			tokens = tokens[drop:]
		}
		base := strings.Join(tokens, "-")
		if c.name.side != "" && c.pair == nil && r.otherSide(cands, c) {
			base += "-" + c.name.side
		}
		p := byBase[base]
		if p == nil || v == "" || p.all != nil {
			p = &part{tokens: tokens, each: map[string]*solid{}, named: origin{"its file", Likely}, copies: 1, copiesBy: origin{"", Guess}}
			p.name = unique(design.Kebab(base), used)
			byBase[base] = p
			r.parts = append(r.parts, p)
		}
		if v == "" {
			p.all = c.solid
		} else {
			p.each[v] = c.solid
		}
		r.settleName(p, c)
	}
	for _, p := range r.parts {
		if p.all != nil || len(p.each) == 0 {
			continue
		}
		if len(p.each) < len(r.variants) {
			for _, v := range r.variants {
				if p.each[v.name] != nil {
					p.only = append(p.only, v.name)
				}
			}
			if len(p.only) == 1 {
				p.all = p.each[p.only[0]]
			}
		}
	}
}

// settleName takes over what the name of a part's file says.
func (r *reader) settleName(p *part, c *candidate) {
	n := c.name
	if n.copies > 0 {
		p.copies, p.copiesBy, p.nameSays = n.copies, origin{"the name of " + path.Base(c.file), Likely}, n.copies
	}
	if c.pair != nil {
		p.pair = c.pair
		p.mirrored = max(1, c.pair.name.copies)
		p.mirrorBy = origin{c.pair.file + " is its mirror image", Likely}
		if n.copies == 0 {
			p.copiesBy = origin{"one file for each side", Likely}
		}
	}
	if n.colour != "" {
		p.colour, p.colourBy = n.colour, origin{"the name of " + path.Base(c.file), Likely}
	} else if c.pack != nil && len(c.pack.materials) == 1 {
		p.colour, p.colourBy = c.pack.materials[0], origin{"the material in " + path.Base(c.file), Likely}
	}
	switch {
	case len(c.inside) > 0:
		p.role, p.roleBy = "reference", origin{fmt.Sprintf("it shows %s at once", listed(c.inside)), Likely}
	case n.role == "reference" && (len(c.bodies) > 1 || !r.isListed(c.file)):
		p.role, p.roleBy = "reference", origin{"the name of " + path.Base(c.file), Guess}
	case n.role != "" && n.role != "reference":
		p.role, p.roleBy = n.role, origin{"the name of " + path.Base(c.file), Guess}
	}
	for _, a := range c.again {
		if a.facts.SHA256 == c.facts.SHA256 {
			p.remarks = append(p.remarks, a.file+" holds the same bytes")
		} else {
			p.remarks = append(p.remarks, a.file+" is the same shape")
		}
	}
	if n := r.opt.States[c.file]; n > 1 {
		p.remarks = append(p.remarks, fmt.Sprintf("the history holds %d states of %s", n, c.file))
	}
}

// otherSide tells whether another candidate is the other side of the same thing.
func (r *reader) otherSide(cands []*candidate, c *candidate) bool {
	for _, d := range cands {
		if d != c && d.key == c.key && d.name.side != "" && d.name.side != c.name.side {
			return true
		}
	}
	return false
}

// commonPrefix is how many words all stems begin with: the design's name before each part's.
func commonPrefix(cands []*candidate) int {
	var first []string
	n, count := 0, 0
	for _, c := range cands {
		if c.name.role == "reference" {
			continue
		}
		if count++; count == 1 {
			first, n = c.name.tokens, len(c.name.tokens)
		}
		p, _ := overlap(first, c.name.tokens)
		n = min(n, p, len(c.name.tokens)-1)
	}
	if count < 2 {
		return 0
	}
	return max(0, n)
}

func unique(name string, used map[string]bool) string {
	if len(name) > 40 {
		name = strings.Trim(name[:40], "-")
	}
	out := name
	for i := 2; used[out]; i++ {
		out = fmt.Sprintf("%s-%d", name, i)
	}
	used[out] = true
	return out
}

// companions finds the CAD source and the print file of each part by their names.
func (r *reader) companions() {
	for _, f := range r.list.of(sourceFile, toolpathFile) {
		n := nameOf(f.path, r.opt.colours())
		if n.old || n.age < 0 {
			continue
		}
		for _, p := range r.parts {
			hit := false
			for _, s := range p.solids(r.variants) {
				hit = hit || n.stem() == s.name.stem()
			}
			if !hit && n.stem() != strings.Join(p.tokens, "-") {
				continue
			}
			if f.kind == sourceFile && len(p.from) < 8 {
				p.from = append(p.from, f.path)
			} else if f.kind == toolpathFile && p.toolpath == "" {
				p.toolpath = f.path
			}
		}
	}
}
