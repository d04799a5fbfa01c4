package adopt

import (
	"cmp"
	"path"
	"slices"
	"strings"
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
	plain    []string // tokens without plurals, once asked for
	named    origin   // how its name and mesh were found
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

// stemmed is the words of the part's name without plurals.
func (p *part) stemmed() []string {
	if p.plain == nil {
		p.plain = stems(p.tokens)
	}
	return p.plain
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
