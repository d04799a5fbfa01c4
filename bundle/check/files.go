package check

import (
	"fmt"
	"path"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// files: every file that the manifest names is in the folder, as a plain file.
func files(in *Input, r *report) {
	done := map[design.Path]bool{}
	for _, u := range in.Design.Files() {
		if done[u.Path] {
			continue
		}
		done[u.Path] = true
		f, ok := in.Facts.File(string(u.Path))
		if !ok {
			r.unknown(u.At, "", fmt.Sprintf("%s: the file was not looked for", u.Path))
			continue
		}
		code := "file-missing"
		if u.Kind == "mesh" {
			code = "mesh-missing"
		}
		kind, detail, _ := strings.Cut(f.Problem, ": ")
		switch kind {
		case "":
		case "missing":
			hint := fmt.Sprintf("put the %s at %s in the design's folder, or mend the path", u.Kind, u.Path)
			if near := nearestFile(in.Facts, string(u.Path)); near != "" {
				hint = "did you mean " + near + "?"
			}
			r.add(code, u.At, "", fmt.Sprintf("the %s %s is not there", u.Kind, u.Path), hint)
		case "link":
			r.add("path-outside", u.At, "", fmt.Sprintf("%s passes through a symbolic link (%s)", u.Path, detail), "replace the link by the file itself: a design must be whole in its own folder")
		case "case":
			r.add(code, u.At, "", fmt.Sprintf("%s is spelt %s in the folder", u.Path, detail), "write it as the folder does; other systems tell capitals apart")
		case "folder":
			r.add(code, u.At, "", fmt.Sprintf("%s is a folder", u.Path), "name a file in it")
		default:
			r.add(code, u.At, "", fmt.Sprintf("%s cannot be read: %s", u.Path, f.Problem), "check the file's permissions")
		}
	}
}

// nearestFile is the file that was likely meant: one of the same kind that nothing else names, as what is named
// has its own use.
func nearestFile(f *facts.Design, file string) string {
	var have []string
	for _, x := range f.Files {
		if x.Problem == "" && !x.Named && isMesh(x.Path) == isMesh(file) {
			have = append(have, x.Path)
		}
	}
	return finding.Nearest(file, have)
}

func isMesh(file string) bool {
	ext := strings.ToLower(path.Ext(file))
	return ext == ".stl" || ext == ".3mf"
}

// meshes: every printed part has a mesh for every variant, and each mesh reads and encloses a body.
func meshes(in *Input, r *report) {
	for _, v := range in.Design.VariantNames() {
		for _, p := range in.Design.Parts {
			if !p.Only.Has(v) {
				continue
			}
			if _, ok := p.Mesh.For(v); ok {
				continue
			}
			if p.Mesh.Set() {
				r.add("mesh-missing", p.Mesh.At, v, fmt.Sprintf("%s has no mesh for the variant %s", p.Name.V, v), fmt.Sprintf("add %s: meshes/%s-%s.stl to its mesh map, or restrict the part with only: […]", v, p.Name.V, v))
			} else if v == in.Design.VariantNames()[0] {
				r.add("mesh-missing", p.At, "", fmt.Sprintf("%s names no mesh", p.Name.V), fmt.Sprintf("add mesh: meshes/%s.stl", p.Name.V))
			}
		}
	}
	done := map[design.Path]bool{}
	for _, p := range in.Design.Parts {
		for _, m := range p.Mesh.Values() {
			if done[m.V] {
				continue
			}
			done[m.V] = true
			f, ok := in.Facts.Mesh(string(m.V))
			if !ok {
				continue // not there: said by files
			}
			judgeMesh(f, m.At, r)
		}
	}
}

func judgeMesh(f *facts.Mesh, at finding.Place, r *report) {
	if f.Error != "" {
		hint := f.Hint
		if hint == "" {
			hint = "export it again as binary STL or 3MF"
		}
		r.add("mesh-unreadable", at, "", fmt.Sprintf("%s: %s", f.File, f.Error), hint)
		return
	}
	if f.Triangles == 0 || f.Area != nil && *f.Area == 0 {
		r.add("mesh-empty", at, "", fmt.Sprintf("%s holds %d triangles and no area", f.File, f.Triangles), "export the solid again")
		return
	}
	if f.OpenEdges != nil && *f.OpenEdges > 0 {
		where := ""
		for _, x := range f.Faults {
			if x.Kind == "open-edge" && len(x.At) > 0 {
				where = fmt.Sprintf(", the first near x %.1f, y %.1f, z %.1f mm", x.At[0][0], x.At[0][1], x.At[0][2])
			}
		}
		r.add("mesh-open", at, "", fmt.Sprintf("%s has %d open edges%s", f.File, *f.OpenEdges, where), "close the solid in CAD and export again; `dropwright measure` shows all places")
	}
}
