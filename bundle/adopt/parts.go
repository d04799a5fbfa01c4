package adopt

import (
	"fmt"
	"path"
	"strings"

	"dropwright/bundle/design"
)

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
