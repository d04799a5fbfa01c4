package check

import "fmt"

// trials: what is about to be released is what was last accepted on the bench. A design without any logged
// print says nothing: the log is optional.
func trials(in *Input, r *report) {
	d := in.Design
	if len(in.Past.Trials) == 0 {
		return
	}
	for _, v := range d.VariantNames() {
		for _, p := range d.PartsOf(v) {
			m, ok := p.Mesh.For(v)
			if !ok || p.Role.V == "jig" {
				continue
			}
			f, ok := in.Facts.Mesh(string(m.V))
			if !ok || f.SHA256 == "" {
				continue
			}
			accepted, other, failed := false, false, false
			for _, t := range in.Past.Trials { // oldest first: the last word counts
				if t.Part != string(p.Name.V) || t.Variant != "" && t.Variant != v {
					continue
				}
				switch {
				case t.Mesh != f.SHA256:
					other = other || t.Accepted
				case t.Accepted:
					accepted, failed = true, false
				default:
					accepted, failed = false, true
				}
			}
			switch {
			case accepted:
			case failed:
				r.add("trial-failed", m.At, v, fmt.Sprintf("the last print of %s failed", m.V), fmt.Sprintf("mend it and print it again; then: dropwright trial add %s/%s ok", d.Folder, p.Name.V))
			case other:
				r.add("trial-old", m.At, v, fmt.Sprintf("%s was changed since %s was last accepted", m.V, p.Name.V), fmt.Sprintf("print it again; then: dropwright trial add %s/%s ok", d.Folder, p.Name.V))
			default:
				r.add("trial-missing", m.At, v, fmt.Sprintf("no print of %s was accepted yet", p.Name.V), fmt.Sprintf("print it; then: dropwright trial add %s/%s ok", d.Folder, p.Name.V))
			}
		}
	}
}
