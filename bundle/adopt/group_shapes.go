package adopt

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/same"
)

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
	return len(dirs) != len(list)
}
