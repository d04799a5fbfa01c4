package check

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// endings are the files that a design's folder holds for a reason: one that the manifest does not name was
// forgotten, or is left over. Other files never are: notes, sources that sources include, tables.
var endings = map[string]string{
	".stl": "mesh", ".3mf": "mesh", ".obj": "mesh", ".amf": "mesh", ".ply": "mesh", ".off": "mesh",
	".jpg": "photo", ".jpeg": "photo", ".png": "photo", ".webp": "photo", ".heic": "photo", ".heif": "photo", ".tif": "photo", ".tiff": "photo", ".avif": "photo",
	".gcode": "toolpath", ".gco": "toolpath", ".bgcode": "toolpath",
}

// folder: what lies in the folder and what the manifest names agree, on every system that may unpack it.
func folder(in *Input, r *report) {
	spelt := map[string][]facts.File{}
	for _, f := range in.Facts.Files {
		if f.Problem == "" {
			spelt[strings.ToLower(f.Path)] = append(spelt[strings.ToLower(f.Path)], f)
		}
	}
	meant := map[string]bool{} // files that are named under another name: one mistake, said where they are named
	for _, f := range in.Facts.Files {
		if f.Named && strings.HasPrefix(f.Problem, "missing") {
			meant[nearestFile(in.Facts, f.Path)] = true
		}
	}
	for _, f := range in.Facts.Files {
		kind := endings[strings.ToLower(path.Ext(f.Path))]
		same := spelt[strings.ToLower(f.Path)]
		if len(same) > 1 {
			if f.Path == same[0].Path {
				r.add("name-case", in.placeFor(same, kind), "", fmt.Sprintf("%s and %s differ in capitals only", same[0].Path, same[1].Path),
					"keep one of the two: on many systems the second overwrites the first")
			}
			continue
		}
		if f.Named || kind == "" || meant[f.Path] || strings.HasPrefix(f.Problem, "missing") {
			continue
		}
		r.add("file-unlisted", in.placeFor([]facts.File{f}, kind), "", fmt.Sprintf("the %s %s is in the folder and not in the manifest", kind, f.Path),
			in.unlistedHint(kind, f.Path))
	}
	for _, p := range in.Facts.Scan.Pointers {
		if u, ok := in.use(p); ok && u.Kind != "mesh" && u.Kind != "photo" && u.Kind != "step picture" { // those are unreadable: said there
			r.add("file-pointer", u.At, "", fmt.Sprintf("the %s %s only points to where large-file storage keeps the real one", u.Kind, p), "fetch the file itself, then check again")
		}
	}
}

func (in *Input) unlistedHint(kind, file string) string {
	base := stem(file)
	switch kind {
	case "mesh":
		if p := in.mirrorOf(base); p != "" {
			return fmt.Sprintf("%s is printed as its mirror image already (mirrored), so that this one is not needed: move it to refs/, which is never looked at", p)
		}
		return fmt.Sprintf("add {name: %s, mesh: %s} to parts, or move it to refs/, which is never looked at", design.Kebab(base), file)
	case "toolpath":
		return fmt.Sprintf("add toolpath: %s to its part, or move it to refs/, which is never looked at", file)
	}
	return fmt.Sprintf("add {file: %s, alt: …} to photos or to a step, or move it to refs/, which is never looked at", file)
}

func stem(file string) string { return strings.TrimSuffix(path.Base(file), path.Ext(file)) }

// mirrorOf is the part whose mirror image, printed from its own mesh, a mesh seems to be by its name; "" for none.
func (in *Input) mirrorOf(base string) string {
	for _, p := range in.Design.Parts {
		if !p.Mirrored.Set() {
			continue
		}
		for _, m := range p.Mesh.Values() {
			if other := opposite(design.Kebab(stem(string(m.V)))); other != "" && other == design.Kebab(base) {
				return string(p.Name.V)
			}
		}
	}
	return ""
}

// use returns the first place where the manifest names a file.
func (in *Input) use(file string) (design.FileUse, bool) {
	for _, u := range in.Design.Files() {
		if string(u.Path) == file {
			return u, true
		}
	}
	return design.FileUse{}, false
}

// placeFor is where the manifest speaks, or should speak, of one of some files: where it names one of them,
// else the entry of the same kind with the nearest name.
func (in *Input) placeFor(files []facts.File, kind string) finding.Place {
	for _, f := range files {
		if u, ok := in.use(f.Path); ok {
			return u.At
		}
	}
	if kind == "photo" {
		if ps := in.Design.Photos; len(ps) > 0 {
			return ps[len(ps)-1].At
		}
	}
	var names []string
	places := map[string]finding.Place{}
	for _, u := range in.Design.Files() {
		if u.Kind == "mesh" {
			names = append(names, string(u.Path))
			places[string(u.Path)] = u.At
		}
	}
	slices.Sort(names)
	if near := finding.Nearest(files[0].Path, names); near != "" {
		return places[near]
	}
	if ps := in.Design.Parts; len(ps) > 0 {
		return ps[len(ps)-1].At
	}
	return in.Design.At
}
