package bundle

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"path"
	"runtime"
	"slices"
	"strings"
	"sync"

	"dropwright/bundle/archive"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	"dropwright/bundle/photo"
	"dropwright/bundle/privacy"
)

// item is one file of a bundle before it is made. Its name is known without reading a file, so that names are
// judged when a design is checked and not on the day it is to go out.
type item struct {
	name string
	from string // the file of the design that it is, or is made from; "" for what is made from everything
	make func() ([]byte, error)
	open func() (io.ReadCloser, error) // in place of make: goes in as it lies there
}

type packer struct {
	k     *Work
	o     PackOptions
	lock  sync.Mutex
	mesh  map[string]*solid   // by file, each read once
	image map[string]*picture // by file, as sheets show it
	plan  []item
	loads []load
	left  []string
}

// items plans everything but the papers: the order is that of the manifest.
func (p *packer) items() []item {
	out := p.solids()
	out = append(out, p.sources()...)
	out = append(out, p.pictures()...)
	return append(out, p.extras()...)
}

// entries makes what goes into a bundle, several files at a time: nothing that the manifest does not name.
func (p *packer) entries(ctx context.Context) ([]archive.Entry, error) {
	p.mesh, p.image = map[string]*solid{}, map[string]*picture{}
	p.plan = p.items()
	if err := p.lay(); err != nil {
		return nil, err
	}
	p.plan = append(p.plan, p.models()...)
	p.plan = append(p.plan, p.papers()...)
	for _, x := range p.plan {
		if facts.Reports(x.from) {
			return nil, &PrivateError{Leaks: []privacy.Leak{{Kind: privacy.Name, Where: x.from, What: "builders wrote this to the maker"}}}
		}
	}
	out := make([]archive.Entry, len(p.plan))
	errs := make([]error, len(p.plan))
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, x := range p.plan {
		out[i] = archive.Entry{Path: x.name, Open: x.open}
		if x.make == nil {
			continue
		}
		wg.Add(1)
		go func() {
			defer wg.Done()
			slots <- struct{}{}
			defer func() { <-slots }()
			if errs[i] = ctx.Err(); errs[i] == nil {
				out[i].Data, errs[i] = x.make()
			}
		}()
	}
	wg.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("packing %s: %w", p.plan[i].name, err)
		}
	}
	return out, nil
}

// unchanged holds what went in as it lay there against what was measured.
func (p *packer) unchanged(files []archive.File) error {
	sums := map[string]string{}
	for _, f := range files {
		sums[f.Path] = f.SHA256.String()
	}
	for _, x := range p.plan {
		if x.open == nil {
			continue
		}
		if err := p.same(x.from, sums[x.name]); err != nil {
			return err
		}
	}
	return nil
}

// same reports whether a file is still the one that was measured and judged.
func (p *packer) same(name, sum string) error {
	f, ok := p.k.Facts.File(name)
	if !ok || f.SHA256 == "" {
		return &NotMeasuredError{name}
	}
	if f.SHA256 != sum {
		return &archive.ChangedError{Path: name}
	}
	return nil
}

// read gives a file of the design, and refuses one that is not what was measured.
func (p *packer) read(name string) ([]byte, error) {
	data, err := fs.ReadFile(p.k.FS, name)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	return data, p.same(name, hex.EncodeToString(sum[:]))
}

// asItIs is an item whose bytes are those of a file of the design.
func (p *packer) asItIs(name, from string) item {
	return item{name: name, from: from, open: func() (io.ReadCloser, error) { return p.k.FS.Open(from) }}
}

// within is a file's place in a folder of the bundle: folders of the maker's stay, so that two files of one
// name stay two.
func within(folder, name string, usual ...string) string {
	for _, u := range append(usual, folder) {
		if rest, ok := strings.CutPrefix(name, u+"/"); ok {
			return folder + "/" + rest
		}
	}
	return folder + "/" + name
}

// sources are the editable files that the manifest names, each once.
func (p *packer) sources() []item {
	var out []item
	for _, x := range p.k.Design.PartsOf(p.o.Variant) {
		for _, f := range x.From.Items {
			name := within("sources", string(f.V), "cad", "source", "src")
			if !slices.ContainsFunc(out, func(i item) bool { return i.from == string(f.V) }) {
				out = append(out, p.asItIs(name, string(f.V)))
			}
		}
	}
	return out
}

func (p *packer) extras() []item {
	var out []item
	for _, x := range p.k.Design.Extras {
		if x.Only.Has(p.o.Variant) {
			out = append(out, p.asItIs(within("extras", string(x.File.V)), string(x.File.V)))
		}
	}
	return out
}

// MaxPhotoSide is the longest side of a photo in a bundle, in pixels: sharp on a full screen, small enough
// to mail. Common practice, no source.
const MaxPhotoSide = 2000

// pictures are the photos, decoded, turned, scaled and encoded anew.
func (p *packer) pictures() []item {
	var out []item
	for _, x := range p.k.Design.Photos {
		if !x.Only.Has(p.o.Variant) {
			continue
		}
		from := string(x.File.V)
		name := p.photoName(from)
		out = append(out, item{name: name, from: from, make: func() ([]byte, error) {
			raw, err := p.read(from)
			if err != nil {
				return nil, err
			}
			data, _, err := photo.Clean(raw, photo.Options{MaxSide: MaxPhotoSide})
			return data, err
		}})
	}
	return out
}

// photoName is where a picture of the design lies in the bundle.
func (p *packer) photoName(from string) string {
	ext := ".jpg"
	if f, ok := p.k.Facts.Photo(from); ok && f.Format == string(photo.PNG) {
		ext = ".png"
	}
	return within("photos", strings.TrimSuffix(from, path.Ext(from))+ext)
}

// picture is a picture as sheets show it, made once for all of them.
type picture struct {
	once sync.Once
	data []byte
	mime string
	err  error
}

func (p *packer) imageOf(name string) ([]byte, string, error) {
	p.lock.Lock()
	x := p.image[name]
	if x == nil {
		x = &picture{}
		p.image[name] = x
	}
	p.lock.Unlock()
	x.once.Do(func() {
		if isDrawn(name) {
			x.data, x.mime, x.err = p.k.drawn(name, p.solidOf)
			return
		}
		if name == logoName {
			x.data, x.mime, x.err = p.k.Image(name)
			return
		}
		raw, err := p.read(name)
		if err != nil {
			x.err = err
			return
		}
		data, info, err := photo.Clean(raw, photo.Options{MaxSide: MaxSheetSide})
		x.data, x.mime, x.err = data, "image/"+string(info.Format), err
	})
	return x.data, x.mime, x.err
}

// solid is a mesh of the design, read once.
type solid struct {
	once sync.Once
	m    *mesh.Mesh
	err  error
}

func (p *packer) solidOf(name string) (*mesh.Mesh, error) {
	p.lock.Lock()
	x := p.mesh[name]
	if x == nil {
		x = &solid{}
		p.mesh[name] = x
	}
	p.lock.Unlock()
	x.once.Do(func() {
		var data []byte
		if data, x.err = p.read(name); x.err == nil {
			x.m, x.err = decodeMesh(data)
		}
	})
	return x.m, x.err
}

// linkTo tells where a file of the design lies in the bundle, "" where it does not.
func (p *packer) linkTo(file string) string {
	for _, x := range p.plan {
		if x.from == file && !strings.HasPrefix(x.name, "meshes/") {
			return x.name
		}
	}
	return ""
}

// unportable judges the names that bundles of the design would hold, for every variant and audience.
func (k *Work) unportable() []facts.PackName {
	var out []facts.PackName
	for _, audience := range []design.Audience{"early", "public"} {
		for _, variant := range k.Design.VariantNames() {
			p := &packer{k: k.For(audience), o: PackOptions{Variant: variant, Audience: audience}}
			plan := p.items()
			var names []string
			from := map[string]string{}
			for _, x := range plan {
				names = append(names, x.name)
				from[x.name] = x.from
			}
			for _, m := range archive.CheckNames(BundleName(k.Design, variant, audience), names) {
				x := facts.PackName{Path: m.Path, Kind: m.Kind, Text: m.Text, File: from[m.Path], Variant: variant}
				if !slices.Contains(out, x) {
					out = append(out, x)
				}
			}
		}
	}
	return out
}

// csv, html and the like are made in memory: they have some hundred kilobytes.
func made(name string, write func(io.Writer) error) item {
	return item{name: name, make: func() ([]byte, error) {
		var b bytes.Buffer
		err := write(&b)
		return b.Bytes(), err
	}}
}
