package measure

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"runtime"
	"slices"
	"strings"
	"sync"

	"dropwright/bundle/design"
	"dropwright/bundle/estimate"
	"dropwright/bundle/facts"
	"dropwright/bundle/measure/cache"
	"dropwright/bundle/mesh"
	"dropwright/bundle/photo"
	"dropwright/bundle/trial"
)

// MaxText is the largest Markdown file that is read, in bytes.
const MaxText = 1 << 20

// readExtras are the endings of extras whose text is read: what they say is held against the lists.
var readExtras = []string{".md", ".csv", ".tsv"}

// MaxFiles is how many files a design's folder may hold before looking through it is given up.
const MaxFiles = 20_000

// Design measures one design's folder. manifest is the text of its design.yaml; house is what it inherits
// from its series. The result does not depend on the number of workers.
func Design(fsys fs.FS, d *design.Design, manifest []byte, house *design.House, opt Options) (*facts.Design, error) {
	out := &facts.Design{}
	if err := listFiles(fsys, d, out); err != nil {
		return nil, err
	}
	meshes, photos, texts := named(d, out)
	for _, t := range texts {
		body, err := readAll(fsys, t, MaxText)
		if err != nil {
			setProblem(out, t, "unreadable: "+plain(err))
			continue
		}
		out.Texts = append(out.Texts, facts.Text{File: t, Body: string(body)})
	}
	out.Content = content(manifest, out.Files)
	// What no topic changes is kept by itself: a check, a bill of materials and a bundle of one design ask for
	// different topics, and joints, seats, pictures and the scan for strays are the dearer part.
	shallow := opt
	shallow.Topics = Topics{}
	shallowKey := designKey(d, out.Content, house, shallow)
	key := designKey(d, out.Content, house, opt)
	if opt.Cache.Get(key, &out.Measured) {
		return out, nil
	}
	if key == shallowKey || !opt.Cache.Get(shallowKey, &out.Measured) {
		shapes, scan := shapesFor(d), newScanner(fsys, d, house)
		work := meshJobs(fsys, d, house, out, meshes, shallow, func(f facts.Mesh, solid *mesh.Mesh) {
			shapes.keep(f, solid)
			scan.solid(f, solid)
		})
		runFiles(append(work, fileJobs(fsys, out, photos, scan, opt)...), opt)
		out.Fit = shapes.joints(fsys, withAllowances(d, out.Parts), house)
		plays(fsys, d, out.Fit)
		out.Boards = seats(fsys, d, shapes, opt)
		out.Scan = scan.finish(shapes)
		opt.Cache.Put(shallowKey, out.Measured)
	}
	if key != shallowKey {
		runFiles(meshJobs(fsys, d, house, out, meshes, opt, nil), opt)
		opt.Cache.Put(key, out.Measured)
	}
	return out, nil
}

// job is a piece of work on one file; each writes to its own place.
type job struct {
	file string
	do   func()
}

// meshJobs measures each mesh with the parts made of it, anew. seen, which may be nil, is shown each mesh.
func meshJobs(fsys fs.FS, d *design.Design, house *design.House, out *facts.Design, meshes []string, opt Options, seen func(facts.Mesh, *mesh.Mesh)) []job {
	var all []job
	out.Meshes = make([]facts.Mesh, len(meshes))
	out.Parts = printed(d)
	out.Printers = nil
	for _, p := range house.Printers {
		mc := MachineFor(p)
		out.Printers = append(out.Printers, facts.Printer{Name: string(p.Name.V), Start: mc.Start, ChangeOver: mc.ChangeOver})
	}
	partsOf := map[string][]int{} // each mesh's own parts: no two jobs look at or write to one place
	for k := range out.Parts {
		partsOf[out.Parts[k].Mesh] = append(partsOf[out.Parts[k].Mesh], k)
	}
	for i, m := range meshes {
		own := partsOf[m]
		all = append(all, job{m, func() {
			f, solid := meshAndSolid(fsys, m, opt)
			out.Meshes[i] = f
			if seen != nil {
				seen(f, solid)
			}
			done := map[string]int{}
			for _, k := range own {
				x := &out.Parts[k]
				if j, ok := done[x.Part]; ok { // the same part from the same mesh in another variant
					variant := x.Variant
					*x, x.Variant = out.Parts[j], variant
					continue
				}
				done[x.Part] = k
				stand(fsys, x, d, house, f, solid, opt)
			}
		}})
	}
	return all
}

// fileJobs looks at each picture, and into each file that a bundle would hold.
func fileJobs(fsys fs.FS, out *facts.Design, photos []string, scan *scanner, opt Options) []job {
	var all []job
	out.Photos = make([]facts.Photo, len(photos))
	hashes := map[string]string{}
	for _, f := range out.Files {
		hashes[f.Path] = f.SHA256
	}
	for i, p := range photos {
		all = append(all, job{p, func() { out.Photos[i] = keptPicture(fsys, p, hashes[p], opt) }})
	}
	for _, f := range out.Files {
		if f.Named && f.Problem == "" {
			all = append(all, job{f.Path, func() { scan.file(f) }})
		}
	}
	return all
}

// designKey is everything that the measured part of a design depends on: its files, the printers, and the
// settings that its parts are printed with.
func designKey(d *design.Design, content string, house *design.House, opt Options) string {
	var printers, settings []any
	for _, p := range house.Printers {
		printers = append(printers, p.Name.V, p.Bed, MachineFor(p))
	}
	for _, f := range house.Filaments {
		settings = append(settings, f.Name.V, SettingsFor(house.Print, f), house.Print.HoleAllowance.V)
	}
	return cache.Key("design", Version, d.Folder, content, opt.Topics, printers, settings, opt.Factors)
}

// runFiles carries the jobs out and says how far it has come.
func runFiles(jobs []job, opt Options) {
	var lock sync.Mutex
	done := 0
	var all []func()
	for _, j := range jobs {
		all = append(all, func() {
			j.do()
			if opt.Progress != nil {
				lock.Lock()
				defer lock.Unlock()
				done++
				opt.Progress(done, len(jobs), j.file)
			}
		})
	}
	run(all, opt.Workers)
}

// run carries the jobs out on a fixed number of workers; each writes to its own place.
func run(jobs []func(), workers int) {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	next := make(chan func())
	var wg sync.WaitGroup
	for range min(workers, len(jobs)) {
		wg.Go(func() {
			for j := range next {
				j()
			}
		})
	}
	for _, j := range jobs {
		next <- j
	}
	close(next)
	wg.Wait()
}

// listFiles fills Files: what the manifest names, and every other file of the folder.
func listFiles(fsys fs.FS, d *design.Design, out *facts.Design) error {
	index := map[string]int{}
	spelt := map[string][]fs.DirEntry{}
	for _, u := range d.Files() {
		name := string(u.Path)
		if _, ok := index[name]; ok {
			continue
		}
		f := facts.File{Path: name, Named: true}
		info, problem := look(fsys, name)
		f.Problem = problem
		if problem == "" {
			if other := spelling(fsys, name, spelt); other != "" {
				f.Problem = "case: " + path.Join(path.Dir(name), other)
			} else if hash, n, err := digest(fsys, name); err != nil {
				f.Problem = "unreadable: " + plain(err)
			} else {
				f.SHA256, f.Bytes = hash, n
			}
		} else if info != nil {
			f.Bytes = info.Size()
		}
		index[name] = len(out.Files)
		out.Files = append(out.Files, f)
	}
	seen := 0
	err := fs.WalkDir(fsys, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil {
			return nil // a folder that cannot be read is a problem of the files named in it
		}
		if seen++; seen > MaxFiles {
			return fs.SkipAll
		}
		if name != "." && strings.HasPrefix(e.Name(), ".") || name == "refs" {
			if e.IsDir() {
				return fs.SkipDir // hidden files and the maker's own notes are not the design's
			}
			return nil
		}
		if _, ok := index[name]; ok || e.IsDir() || name == "design.yaml" {
			return nil
		}
		f := facts.File{Path: name}
		if info, err := e.Info(); err == nil {
			f.Bytes = info.Size()
		}
		if e.Type()&fs.ModeSymlink != 0 {
			f.Problem = "link: " + name
		}
		out.Files = append(out.Files, f)
		return nil
	})
	if err != nil {
		return fmt.Errorf("looking through the design's folder: %w", err)
	}
	slices.SortFunc(out.Files, func(a, b facts.File) int { return cmp.Compare(a.Path, b.Path) })
	return nil
}

// named returns the files to measure, by kind, each once, sorted; only those that are there.
func named(d *design.Design, f *facts.Design) (meshes, photos, texts []string) {
	for _, u := range d.Files() {
		name := string(u.Path)
		if x, ok := f.File(name); !ok || x.Problem != "" {
			continue
		}
		switch u.Kind {
		case "mesh":
			meshes = append(meshes, name)
		case "photo", "step picture":
			photos = append(photos, name)
		case "story", "step text":
			texts = append(texts, name)
		case "extra":
			if slices.Contains(readExtras, strings.ToLower(path.Ext(name))) {
				texts = append(texts, name)
			}
		}
	}
	for _, l := range []*[]string{&meshes, &photos, &texts} {
		slices.Sort(*l)
		*l = slices.Compact(*l)
	}
	return
}

func setProblem(out *facts.Design, name, problem string) {
	for i := range out.Files {
		if out.Files[i].Path == name {
			out.Files[i].Problem = problem
		}
	}
}

// keptPicture is what is known of a picture with that hash, "" if it has none.
func keptPicture(fsys fs.FS, name, hash string, opt Options) facts.Photo {
	var kept facts.Photo
	key := cache.Key("picture", Version, hash)
	if hash == "" || !opt.Cache.Get(key, &kept) {
		kept = picture(fsys, name)
		if hash != "" && kept.Problem == "" {
			opt.Cache.Put(key, kept)
		}
	}
	kept.File = name
	return kept
}

// picture decodes a picture as the bundle would, and keeps what is known of it.
func picture(fsys fs.FS, name string) facts.Photo {
	out := facts.Photo{File: name}
	data, err := readAll(fsys, name, photo.MaxBytes)
	if err != nil {
		out.Problem = plain(err)
		return out
	}
	_, info, err := photo.Clean(data, photo.Options{})
	if err != nil {
		out.Problem, out.Hint = pictureProblem(err)
		return out
	}
	out.Format, out.Width, out.Height = string(info.Format), info.Width, info.Height
	return out
}

// pictureProblem splits a refusal into what is wrong and what to do.
func pictureProblem(err error) (text, hint string) {
	var r *photo.Refusal
	if errors.As(err, &r) {
		return r.Text, r.Hint
	}
	return err.Error(), "export it again as JPEG or PNG"
}

// printed lists every printed part of every variant that has a mesh, sorted.
func printed(d *design.Design) []facts.Part {
	out := []facts.Part{}
	for _, v := range d.VariantNames() {
		for _, p := range d.PartsOf(v) {
			if m, ok := p.Mesh.For(v); ok {
				out = append(out, facts.Part{Part: string(p.Name.V), Variant: v, Mesh: string(m.V)})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b facts.Part) int {
		return cmp.Or(cmp.Compare(a.Part, b.Part), cmp.Compare(a.Variant, b.Variant))
	})
	return out
}

// stand puts a part on the bed: its size as it stands, the printers that take it, what it costs to print. The
// print file beside it is judged even when no estimate was asked for.
func stand(fsys fs.FS, x *facts.Part, d *design.Design, house *design.House, f facts.Mesh, solid *mesh.Mesh, opt Options) {
	if f.Size == nil || solid == nil {
		return
	}
	p, _ := d.Part(x.Part)
	how := PrintingOf(p, d, house)
	s := standingSize(*f.Size, how.Stand)
	x.Stands = &s
	stood := standing(solid, how.Stand)
	for _, pr := range house.Printers {
		bed, ok := bedOf(pr)
		if !ok {
			continue
		}
		if fit := mesh.FitsBed(stood, bed); fit.Fits {
			if x.FitsOn == nil && fit.Turn != 0 {
				x.TurnedBy = &fit.Turn
			}
			x.FitsOn = append(x.FitsOn, string(pr.Name.V))
		}
	}
	printer, mc := how.printer(stood)
	if l, ok := trial.Find(opt.Factors, printer, how.Settings.Material); ok && printer != "" && l.Hole.Enough() {
		x.HoleAllowance = &l.Hole.Value
	}
	if !opt.Topics.Estimate && how.Toolpath == "" {
		return
	}
	if how.Toolpath == "" {
		x.Estimate, x.Unestimated, x.Outline = keptEstimate(fsys, f, stood, how, printer, mc, opt)
		return
	}
	w := work(fsys, f, stood, how, printer, mc, opt.Factors)
	x.Toolpath = w.toolpath
	if opt.Topics.Estimate {
		x.Estimate, x.Unestimated, x.Outline = w.estimate, w.why, estimate.Outline(stood)
	}
}

// keptEstimate is the model's estimate of a mesh that was stood up, and its outline. It rests on the mesh and the
// settings alone, so that a word changed in a manifest leaves it as it is.
func keptEstimate(fsys fs.FS, f facts.Mesh, stood *mesh.Mesh, how Printing, printer string, mc estimate.Machine, opt Options) (*facts.Estimate, string, [][2]float64) {
	var kept struct {
		Estimate *facts.Estimate
		Why      string
		Outline  [][2]float64
	}
	key := cache.Key("estimate", Version, f.SHA256, how.Settings, how.Stand, printer, mc, opt.Factors)
	if f.SHA256 == "" || !opt.Cache.Get(key, &kept) {
		w := work(fsys, f, stood, how, printer, mc, opt.Factors)
		kept.Estimate, kept.Why, kept.Outline = w.estimate, w.why, estimate.Outline(stood)
		opt.Cache.Put(key, kept)
	}
	return kept.Estimate, kept.Why, kept.Outline
}
