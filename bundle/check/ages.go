package check

import (
	"fmt"

	"dropwright/bundle/design"
)

// ages: no picture is older than the meshes of the parts it shows, no mesh older than its sources. Ages are
// those of the history; the times of files on the disk say when they were copied.
func ages(in *Input, r *report) {
	d := in.Design
	at := d.Title.At
	if len(d.Photos) > 0 {
		at = d.Photos[0].At
	}
	known := false
	for _, u := range d.Files() {
		_, ok := in.Past.Ages[string(u.Path)]
		known = known || ok
	}
	if !known && datable(d) {
		r.unknown(at, "", "whether pictures are older than what they show, and meshes than their sources: the files are in no history (git)")
	}
	if !known {
		return
	}
	for _, p := range d.Photos {
		var shown []design.Name
		for _, s := range p.Shows {
			shown = append(shown, s.V)
		}
		pictureAge(in, p.File, shown, r)
	}
	for _, s := range d.Assembly {
		var used []design.Name
		for _, u := range s.Uses.Entries {
			used = append(used, design.Name(u.Key))
		}
		if s.Picture.File.Set() {
			pictureAge(in, s.Picture.File, used, r)
		}
	}
	for _, p := range d.Parts {
		for _, m := range p.Mesh.Values() {
			for _, f := range p.From.Items {
				if in.newer(string(f.V), string(m.V)) {
					r.add("mesh-stale", m.At, "", fmt.Sprintf("%s was changed after %s was exported from it", f.V, m.V), "export it again; if the change does not touch it, commit both together next time, or use_as_is")
					break
				}
			}
		}
	}
}

func pictureAge(in *Input, file design.Val[design.Path], shows []design.Name, r *report) {
	for _, name := range shows {
		p, ok := in.Design.Part(string(name))
		if !ok {
			continue
		}
		for _, m := range p.Mesh.Values() {
			if in.newer(string(m.V), string(file.V)) {
				r.add("picture-old", file.At, "", fmt.Sprintf("%s was changed after the picture %s, which shows %s", m.V, file.V, name), "take the picture again; if the change does not show, use_as_is: [{code: picture-old, because: …}]")
				return
			}
		}
	}
}

// newer reports whether the history knows that a was changed after b. What is changed and not yet committed is
// newer than all that is. Of a file that is not there, which was said, no age follows.
func (in *Input) newer(a, b string) bool {
	for _, name := range []string{a, b} {
		if f, ok := in.Facts.File(name); ok && f.Problem != "" {
			return false
		}
	}
	x, ok := in.Past.Ages[a]
	y, ok2 := in.Past.Ages[b]
	if !ok || !ok2 || y.Pending {
		return false
	}
	return x.Pending || x.At.After(y.At)
}

// datable reports whether the manifest says of any picture what it shows, or of any mesh what it is made from.
func datable(d *design.Design) bool {
	for _, p := range d.Photos {
		if len(p.Shows) > 0 {
			return true
		}
	}
	for _, s := range d.Assembly {
		if s.Picture.File.Set() && len(s.Uses.Entries) > 0 {
			return true
		}
	}
	for _, p := range d.Parts {
		if len(p.From.Items) > 0 {
			return true
		}
	}
	return false
}
