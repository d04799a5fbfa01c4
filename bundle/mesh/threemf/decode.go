package threemf

import (
	"errors"
	"fmt"
	"io"
	"strings"
)

// Decode reads a 3MF package of size bytes. Only r is read, nothing is unpacked to disk.
//
// An error says what is wrong with the package, the part, and the byte within the part (unpacked).
// It never comes with half a model. What is against the standard without spoiling the geometry is in
// Model.Warnings instead.
func Decode(r io.ReaderAt, size int64) (*Model, error) {
	p, err := openPackage(r, size)
	if err != nil {
		return nil, fmt.Errorf("3MF package: %w", err)
	}
	d := &decoder{pkg: p, model: &Model{}, objects: make(map[Key]int), warned: make(map[string]bool)}
	if err := d.decode(); err != nil {
		return nil, fmt.Errorf("3MF package: %w", err)
	}
	return d.model, nil
}

// decoder gathers the model from its parts.
type decoder struct {
	pkg     *pkg
	model   *Model
	objects map[Key]int // index into model.Objects
	warned  map[string]bool
	queue   []string // part keys that production paths name, not yet read
	queued  map[string]bool
}

func (d *decoder) warn(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if len(d.model.Warnings) < maxWarnings && !d.warned[text] {
		d.warned[text] = true
		d.model.Warnings = append(d.model.Warnings, text)
	}
}

func (d *decoder) decode() error {
	rels, err := d.pkg.relations("/")
	if err != nil {
		return err
	}
	root := ""
	var pictures []string
	for _, r := range rels {
		switch r.kind {
		case relModel:
			if root != "" {
				return errors.New("the package names two model parts as its start, only one is allowed")
			}
			root = r.target
		case relThumbnail:
			pictures = append(pictures, r.target)
		}
	}
	if root == "" {
		return fmt.Errorf("%s names no 3D model: it is not a 3MF package", nameRootRels)
	}
	d.queued = map[string]bool{root: true}
	d.queue = []string{root}
	for i := 0; i < len(d.queue); i++ {
		key := d.queue[i]
		if err := d.readPart(key, i == 0); err != nil {
			return err
		}
		rels, err := d.pkg.relations(key)
		if err != nil {
			return err
		}
		for _, r := range rels {
			if r.kind == relThumbnail {
				pictures = append(pictures, r.target)
			}
		}
	}
	if err := d.resolve(); err != nil {
		return err
	}
	if err := d.readThumbnails(pictures); err != nil {
		return err
	}
	for _, f := range d.pkg.order {
		kind := d.pkg.kinds[partKey(f.Name)]
		if kind == "" {
			kind = KindForeign
			if strings.HasSuffix(f.Name, ".rels") && strings.Contains("/"+f.Name, "/_rels/") {
				kind = KindRelations
			}
		}
		d.model.Parts = append(d.model.Parts, Part{f.Name, kind, d.pkg.types.of(f.Name), int64(f.UncompressedSize64)})
	}
	return nil
}

// readPart reads one model part.
func (d *decoder) readPart(key string, root bool) error {
	r, f, err := d.pkg.open(key)
	if err != nil {
		return err
	}
	defer r.Close()
	d.pkg.kinds[key] = KindModel
	if t := d.pkg.types.of(f.Name); !strings.EqualFold(t, typeModel) {
		d.warn("the content type of %q is %q, it must be %q", f.Name, clip([]byte(t)), typeModel)
	}
	ahead := newReadAhead(r)
	defer ahead.stop()
	p := &modelPart{
		decoder: d, scanner: newScanner(f.Name, ahead), key: key, root: root,
		budget: partBudget{packed: int64(f.CompressedSize64), unpacked: int64(f.UncompressedSize64)},
		ids:    make(map[uint32]int), scale: 1,
	}
	if err := p.read(); err != nil {
		return err
	}
	d.model.Comments = append(d.model.Comments, p.comments[:min(len(p.comments), maxComments-min(maxComments, len(d.model.Comments)))]...)
	return nil
}

// wanted queues a part that a production path names.
func (d *decoder) wanted(key string) {
	if !d.queued[key] {
		d.queued[key] = true
		d.queue = append(d.queue, key)
	}
}

func (d *decoder) readThumbnails(keys []string) error {
	for _, key := range keys {
		if d.pkg.kinds[key] != "" {
			continue // named twice
		}
		d.pkg.kinds[key] = KindThumbnail
		r, f, err := d.pkg.open(key)
		if err != nil {
			return err
		}
		if f.UncompressedSize64 > maxThumbnail || len(d.model.Thumbnails) >= maxThumbnails {
			r.Close()
			d.warn("the thumbnail %q was not read: there are more than %d or it is larger than %d MiB", f.Name, maxThumbnails, maxThumbnail>>20)
			continue
		}
		data, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			return fmt.Errorf("thumbnail %q: %w", f.Name, err)
		}
		d.model.Thumbnails = append(d.model.Thumbnails, Thumbnail{f.Name, d.pkg.types.of(f.Name), data})
	}
	return nil
}
