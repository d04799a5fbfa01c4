package check

import (
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// cheeks is a part of a pair, printed mirrored as well or not, with files of its folder that nothing names.
func cheeks(mirrored bool, unlisted ...string) *Input {
	mesh := design.Val[design.Path]{V: "stl/cheek_L.stl", At: at}
	p := design.Part{At: at, Name: design.Val[design.Name]{V: "cheek", At: at}, Mesh: design.ByVariant[design.Path]{At: at, All: &mesh}}
	if mirrored {
		one := design.Val[design.Int]{V: 1, At: at}
		p.Mirrored = design.ByVariant[design.Int]{At: at, All: &one}
	}
	in := &Input{Design: &design.Design{File: at.File, At: at, Parts: []design.Part{p}}, Facts: &facts.Design{Files: []facts.File{{Path: "stl/cheek_L.stl", Named: true}}}}
	for _, f := range unlisted {
		in.Facts.Files = append(in.Facts.Files, facts.File{Path: f})
	}
	return in
}

func TestUnlistedMirrorImage(t *testing.T) {
	for _, c := range []struct {
		in   *Input
		hint string
	}{
		{cheeks(true, "stl/cheek_R.stl"), "cheek is printed as its mirror image already"},
		{cheeks(true, "stl/Cheek R.stl"), "cheek is printed as its mirror image already"},
		{cheeks(false, "stl/cheek_R.stl"), "add {name: cheek-r"},
		{cheeks(true, "stl/arm_R.stl"), "add {name: arm-r"},
	} {
		r := &report{variants: []string{"plain"}}
		folder(c.in, r)
		if len(r.findings) != 1 || r.findings[0].Code != "file-unlisted" || !strings.Contains(r.findings[0].Hint, c.hint) {
			t.Errorf("%+v, want a hint with %q", r.findings, c.hint)
		}
	}
}

// A file under another name than the manifest's is one mistake: said where it is named, with the name it has.
func TestMisnamedMeshIsSaidOnce(t *testing.T) {
	in := cheeks(false, "stl/cheek_left.stl")
	in.Facts.Files[0].Problem = "missing"
	r := &report{variants: []string{"plain"}}
	files(in, r)
	folder(in, r)
	if len(r.findings) != 1 || r.findings[0].Code != "mesh-missing" || !strings.Contains(r.findings[0].Hint, "stl/cheek_left.stl") {
		t.Errorf("%+v", r.findings)
	}
	in = cheeks(false, "stl/base.stl") // nothing alike: both are said
	in.Facts.Files[0].Problem = "missing"
	r = &report{variants: []string{"plain"}}
	files(in, r)
	folder(in, r)
	if len(r.findings) != 2 {
		t.Errorf("%+v", r.findings)
	}
}
