package desk

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"dropwright/bundle"
	"dropwright/bundle/design"
	"dropwright/bundle/measure/cache"
	"dropwright/bundle/sheet"
	"dropwright/series/site"
)

// drawnVersion changes when the drawn pictures do, so that kept ones are drawn afresh. The place that keeps them
// knows the program's build as well; this is for places that do not.
const drawnVersion = 1

// shown is a picture on a page.
type shown struct {
	Src, Alt, Caption string
	Width, Height     int // pixels, 0: not known
}

// picturePath is where a picture of a design lies on the site. Photos may be JPEG or PNG; the name keeps its ending.
func picturePath(name string) string { return path.Join("pictures", name) }

// picturesOf lists what a design's page may show of its own files: what the manifest names as a picture.
func picturesOf(d *design.Design) []string {
	var out []string
	for _, u := range d.Files() {
		if u.Kind == "photo" || u.Kind == "step picture" {
			out = append(out, string(u.Path))
		}
	}
	return out
}

// audience is whose papers a page shows pictures of: the public's, who get no less of the pictures.
const audience = design.Audience("public")

// picture gives one picture. Only what the manifest names and what is drawn can be asked for: the rest of the folder
// is nobody's business here.
func (d *Desk) picture(x *Design, name string) (site.Page, error) {
	none := fmt.Errorf("designs/%s/pictures/%s: %w", x.Name, name, site.ErrNoPage)
	if d.pictureKey(x, name) == "" {
		return site.Page{}, none
	}
	data, mime, err := d.images(x, x.Work.Image)(name)
	if err != nil {
		return site.Page{}, fmt.Errorf("%w (%w)", none, err)
	}
	return site.Page{Path: path.Join("designs", x.Name, "pictures", name), Type: mime, Policy: site.FilePolicy, Data: data}, nil
}

// images takes pictures from what was drawn before, and from make what was not.
func (d *Desk) images(x *Design, make sheet.Images) sheet.Images {
	return func(name string) ([]byte, string, error) {
		var have struct {
			Data []byte
			Type string
		}
		key := d.pictureKey(x, name)
		if key != "" && d.Kept != nil && d.Kept.Get(key, &have) {
			return have.Data, have.Type, nil
		}
		var err error
		d.drawing.Lock()
		have.Data, have.Type, err = make(name)
		d.drawing.Unlock()
		if err == nil && key != "" && d.Kept != nil {
			d.Kept.Put(key, have)
		}
		return have.Data, have.Type, err
	}
}

// pictureKey names everything that a picture depends on; "" when the design has no such picture.
func (d *Desk) pictureKey(x *Design, name string) string {
	if strings.HasPrefix(name, "render/") {
		return d.drawnKey(x, name)
	}
	f, ok := x.Work.Facts.File(name)
	if !ok || f.Problem != "" || !slices.Contains(picturesOf(x.Work.Design), name) {
		return ""
	}
	return cache.Key("photo", drawnVersion, f.SHA256)
}

// drawnKey names everything that a drawn picture depends on; "" when there is no such picture. A part's picture
// depends on its mesh, its colour and how it stands; one of several parts on the whole of the design.
func (d *Desk) drawnKey(x *Design, name string) string {
	f := strings.Split(strings.TrimSuffix(name, ".png"), "/")
	if len(f) != 5 || f[1] != "early" && f[1] != "public" || !slices.Contains(x.Work.Design.VariantNames(), f[2]) {
		return ""
	}
	if f[3] != "part" && f[3] != "mirrored" {
		var filaments []any
		for _, y := range x.Work.House.Filaments {
			filaments = append(filaments, y.Name.V, y.Colour.V)
		}
		return cache.Key("scene", drawnVersion, name, x.Work.Facts.Content, filaments)
	}
	p, ok := x.Work.Design.Part(f[4])
	if !ok {
		return ""
	}
	file, ok := p.Mesh.For(f[2])
	if !ok {
		return ""
	}
	m, ok := x.Work.Facts.Mesh(string(file.V))
	if !ok || m.SHA256 == "" {
		return ""
	}
	return cache.Key("part", drawnVersion, f[3], m.SHA256, p.StandOn.V, filamentOf(x.Work, string(p.Colour.V)).Hex)
}

// swatch is a filament with its colour.
type swatch struct {
	Name string `json:"name"`
	Hex  string `json:"hex"`
}

// filamentsOf are the filaments offered for a colour role, the one that counts first.
func filamentsOf(w *bundle.Work, role string) []swatch {
	var out []swatch
	roles, _ := w.Design.Colours.Get(role)
	for _, n := range roles.Items {
		f, _ := w.House.Filament(string(n.V))
		out = append(out, swatch{Name: string(n.V), Hex: colourOf(string(f.Colour.V))})
	}
	return out
}

func filamentOf(w *bundle.Work, role string) swatch {
	if all := filamentsOf(w, role); len(all) > 0 {
		return all[0]
	}
	return swatch{}
}
