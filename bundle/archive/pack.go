package archive

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"path"
	"runtime"
	"sort"
	"strings"
	"sync"
	"time"

	"golang.org/x/text/unicode/norm"
)

// Limits of a bundle, held by Write and by Read alike.
const (
	// MaxEntries is the most files a bundle may hold, the checksum list included. Go would turn to
	// Zip64 at 65,535 (archive/zip); a bundle with 10,000 files is a mistake long before.
	MaxEntries = 10_000
	// MaxBytes is the most that the files of a bundle may have together, in bytes. Zip64 starts at
	// 4 GiB = 4,294,967,296 (APPNOTE.TXT 4.4.8); the difference leaves room for the headers.
	MaxBytes = 4_000_000_000
	// MaxRatio is how many times smaller than its content a file of more than RatioFrom bytes may be
	// packed; Write stores it as it is rather than pass that. Ordinary meshes and texts reach 10,
	// the worst sliced model 90 (measured); a deflate bomb reaches 1,032.
	MaxRatio  = 200
	RatioFrom = 1 << 20
)

// Entry is one file to pack. Its bytes are Data, or, when Open is not nil, what Open gives; Open is
// called more than once, from several goroutines at a time, and must give the same bytes each time.
// Path is slash-separated and relative to the top folder; it is brought to Unicode form NFC.
type Entry struct {
	Path string
	Data []byte
	Open func() (io.ReadCloser, error)
}

func (e *Entry) open() (io.ReadCloser, error) {
	if e.Open == nil {
		return io.NopCloser(bytes.NewReader(e.Data)), nil
	}
	return e.Open()
}

// Options say how to pack.
type Options struct {
	// Top is the name of the one folder that everything lies in.
	Top string
	// Time is the time of every file, to two seconds, written in UTC; from 1980 to 2107.
	Time time.Time
	// Sign, when not nil, is given the text of SHA256SUMS and returns the armored signature that is
	// packed as SHA256SUMS.sig.
	Sign func(sums []byte) ([]byte, error)
	// Workers is how many files or blocks are read and compressed at a time, 0 for one per core.
	// It changes the speed and the memory needed, never the bytes.
	Workers int
}

// Result is what Write packed.
type Result struct {
	Digest Hash   // content digest of the package comment
	Files  []File // sorted by path, SHA256SUMS and SHA256SUMS.sig included
	Sums   []byte // text of SHA256SUMS
	Bytes  int64  // length of the zip
}

// ChangedError says that a file was not the same when it was packed as when it was hashed just
// before.
type ChangedError struct{ Path string }

func (e *ChangedError) Error() string {
	return fmt.Sprintf("%q changed while it was being packed; wait until nothing writes to it and pack again", e.Path)
}

// Write packs entries into a zip on w, together with SHA256SUMS over all of them. The order of
// entries does not matter. Names that would not unpack everywhere, too many or too large files are
// refused with *Problems before anything is written; a file that changes meanwhile gives
// *ChangedError, and then, as after any error, what w got is of no use: write through WriteFile.
//
// Memory stays under some 100 MB on two cores, and 8 MB more for each further core, whatever the
// sizes: files are read twice, once to hash them and once to pack them.
func Write(ctx context.Context, w io.Writer, entries []Entry, opt Options) (Result, error) {
	stamp, err := msdosTime(opt.Time)
	if err != nil {
		return Result{}, err
	}
	items := make([]item, len(entries))
	paths := make([]string, len(entries))
	for i, e := range entries {
		e.Path = norm.NFC.String(e.Path)
		items[i].Entry = e
		paths[i] = e.Path
	}
	list := CheckNames(opt.Top, paths)
	switch {
	case len(items) == 0:
		list = append(list, Problem{TooMany, "", "there is nothing to pack"})
	case len(items)+2 > MaxEntries:
		list = append(list, Problem{TooMany, "", fmt.Sprintf("%d files; a bundle holds at most %d", len(items), MaxEntries-2)})
	}
	if len(list) > 0 {
		return Result{}, &Problems{"pack", list}
	}

	p := newPool(ctx, opt.Workers)
	defer p.stop()
	if err := p.hash(items); err != nil {
		return Result{}, err
	}
	var total int64
	files := make([]File, len(items))
	for i := range items {
		files[i] = items[i].file()
		total += items[i].size
	}
	if total > MaxBytes {
		return Result{}, &Problems{"pack", []Problem{{TooLarge, "", fmt.Sprintf("%d bytes; a bundle holds at most %d", total, int64(MaxBytes))}}}
	}

	res := Result{Digest: Digest(files), Sums: Sums(files)}
	items = append(items, dataItem(SumsName, res.Sums))
	if opt.Sign != nil {
		sig, err := opt.Sign(res.Sums)
		if err != nil {
			return Result{}, fmt.Errorf("sign %s: %w", SumsName, err)
		}
		items = append(items, dataItem(SignatureName, sig))
	}
	sort.Slice(items, func(i, j int) bool { return items[i].Path < items[j].Path })
	for i := range items {
		res.Files = append(res.Files, items[i].file())
	}
	count := &countWriter{w: w}
	if err := p.pack(count, items, norm.NFC.String(opt.Top), stamp); err != nil {
		return Result{}, err
	}
	res.Bytes = count.n
	return res, nil
}

// item is an entry with what the first reading found.
type item struct {
	Entry
	size int64
	sum  Hash
	crc  uint32
}

func (it *item) file() File { return File{it.Path, it.size, it.sum} }

func dataItem(name string, data []byte) item {
	return item{Entry{Path: name, Data: data}, int64(len(data)), sha256.Sum256(data), crc32.ChecksumIEEE(data)}
}

// stored are the endings of files that are compressed already: deflating them again costs time and
// gains nothing.
var stored = map[string]bool{".jpg": true, ".jpeg": true, ".png": true, ".3mf": true, ".zip": true, ".pdf": true}

func (it *item) deflates() bool { return !stored[strings.ToLower(path.Ext(it.Path))] }

// stamp is a time as zip keeps it. The fields are set by hand: FileHeader.Modified would add an
// extra field of 9 bytes and let the zone of the time in.
type stamp struct{ date, time uint16 }

// msdosTime brings t to UTC and to the MS-DOS form of APPNOTE.TXT 4.4.6.
func msdosTime(t time.Time) (stamp, error) {
	t = t.UTC()
	if y := t.Year(); y < 1980 || y > 2107 {
		return stamp{}, fmt.Errorf("a zip cannot hold the time %s: its years are 1980 to 2107", t.Format(time.RFC3339))
	}
	return stamp{
		date: uint16((t.Year()-1980)<<9 | int(t.Month())<<5 | t.Day()),
		time: uint16(t.Hour()<<11 | t.Minute()<<5 | t.Second()/2),
	}, nil
}

// header is the zip header of one file.
func header(it *item, top string, st stamp, method uint16, packed int64) *zip.FileHeader {
	name := top + "/" + it.Path
	h := &zip.FileHeader{
		Name:           name,
		CreatorVersion: 3<<8 | 20, // Unix, 2.0: the same on every system (APPNOTE.TXT 4.4.2)
		ReaderVersion:  20,
		Method:         method,
		//lint:ignore SA1019 Modified would add an extra field and the zone of the time
		ModifiedDate: st.date,
		//lint:ignore SA1019 as above
		ModifiedTime:       st.time,
		CRC32:              it.crc,
		CompressedSize64:   uint64(packed),
		UncompressedSize64: uint64(it.size),
		ExternalAttrs:      0o100644 << 16, // a plain file, rw-r--r--
	}
	if !isASCII(name) {
		h.Flags = 0x800 // the name is UTF-8 (APPNOTE.TXT 4.4.4, bit 11)
	}
	return h
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= 0x80 {
			return false
		}
	}
	return true
}

type countWriter struct {
	w io.Writer
	n int64
}

func (c *countWriter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += int64(n)
	return n, err
}

// Memory of a Write, in bytes; with the encoders and the collector's slack the peak is below
// 100 MB on two cores (BenchmarkAgainstZip).
const (
	smallFile = 4 << 20  // up to here a file is read, hashed and packed as one task
	aheadMax  = 24 << 20 // content of small files being worked on or waiting for their turn
	heldMax   = 32 << 20 // packed blocks of one large file that wait for its header
)

// pool runs tasks on a fixed number of goroutines. Tasks never wait for each other.
type pool struct {
	ctx     context.Context
	workers int
	tasks   chan func()
	wg      sync.WaitGroup
}

func newPool(ctx context.Context, workers int) *pool {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	p := &pool{ctx: ctx, workers: workers, tasks: make(chan func())}
	for range workers {
		p.wg.Go(func() {
			for task := range p.tasks {
				task()
			}
		})
	}
	return p
}

func (p *pool) stop() {
	close(p.tasks)
	p.wg.Wait()
}

// each runs do(0) … do(n-1) on the pool and then gives every error, in order, to judge, which
// returns the one to stop with or nil.
func (p *pool) each(n int, do func(int) error, judge func(error) error) error {
	errs := make([]error, n)
	var wg sync.WaitGroup
	for i := range n {
		wg.Add(1)
		p.tasks <- func() {
			defer wg.Done()
			if errs[i] = p.ctx.Err(); errs[i] == nil {
				errs[i] = do(i)
			}
		}
	}
	wg.Wait()
	for _, err := range errs {
		if err == nil {
			continue
		}
		if err := judge(err); err != nil {
			return err
		}
	}
	return nil
}

// hash reads every item once and fills in size, sum and crc. Of several errors the one of the first
// item by order is returned.
func (p *pool) hash(items []item) error {
	return p.each(len(items), func(i int) error { return items[i].measure() }, func(err error) error { return err })
}

func (it *item) measure() error {
	if it.Open == nil {
		*it = dataItem(it.Path, it.Data)
		return nil
	}
	r, err := it.Open()
	if err != nil {
		return fmt.Errorf("pack %q: %w", it.Path, err)
	}
	sha, crc := sha256.New(), crc32.NewIEEE()
	// One byte more than may be packed is enough to refuse, so an endless file does not hang us.
	n, err := io.CopyBuffer(io.MultiWriter(sha, crc), io.LimitReader(r, MaxBytes+1), make([]byte, 256<<10))
	if err := errors.Join(err, r.Close()); err != nil {
		return fmt.Errorf("pack %q: %w", it.Path, err)
	}
	it.size, it.sum, it.crc = n, Hash(sha.Sum(nil)), crc.Sum32()
	return nil
}

// packed is a file ready to be written.
type packed struct {
	method uint16
	chunks [][]byte
	size   int64 // sum of the chunks
	err    error
}

// pack writes all items in order. Small files are worked on ahead of their turn, up to aheadMax;
// a large one is cut into blocks when its turn comes.
func (p *pool) pack(w io.Writer, items []item, top string, st stamp) error {
	zw := zip.NewWriter(w)
	waiting := make([]chan packed, len(items))
	// An error leaves tasks behind; their channels are buffered, so they end by themselves.
	next, ahead := 0, int64(0)
	for i := range items {
		it := &items[i]
		for next < len(items) && (next <= i || ahead+items[next].size <= aheadMax) {
			if one := &items[next]; one.size <= smallFile {
				ahead += one.size
				done := make(chan packed, 1)
				waiting[next] = done
				p.tasks <- func() { done <- one.packSmall(p.ctx) }
			}
			next++
		}
		if err := p.ctx.Err(); err != nil {
			return err
		}
		var err error
		switch {
		case waiting[i] != nil:
			err = writeChunks(zw, it, top, st, <-waiting[i])
			ahead -= it.size
			waiting[i] = nil
		case it.deflates():
			err = p.packLarge(zw, it, top, st)
		default:
			err = copyLarge(p.ctx, zw, it, top, st)
		}
		if err != nil {
			return err
		}
	}
	return zw.Close()
}

func writeChunks(zw *zip.Writer, it *item, top string, st stamp, done packed) error {
	if done.err != nil {
		return done.err
	}
	w, err := zw.CreateRaw(header(it, top, st, done.method, done.size))
	if err != nil {
		return err
	}
	for _, c := range done.chunks {
		if _, err := w.Write(c); err != nil {
			return err
		}
	}
	return nil
}

// packSmall reads, checks and packs one small file as a whole.
func (it *item) packSmall(ctx context.Context) packed {
	if err := ctx.Err(); err != nil {
		return packed{err: err}
	}
	data := it.Data
	if it.Open != nil {
		r, err := it.Open()
		if err != nil {
			return packed{err: fmt.Errorf("pack %q: %w", it.Path, err)}
		}
		data = make([]byte, it.size+1) // one more, to see that the file has grown
		n, err := io.ReadFull(r, data)
		if err == io.ErrUnexpectedEOF || err == io.EOF {
			err = nil
		}
		if err := errors.Join(err, r.Close()); err != nil {
			return packed{err: fmt.Errorf("pack %q: %w", it.Path, err)}
		}
		data = data[:n]
	}
	if int64(len(data)) != it.size || sha256.Sum256(data) != it.sum {
		return packed{err: &ChangedError{it.Path}}
	}
	if it.deflates() {
		var chunks [][]byte
		var size int64
		for at := 0; at < len(data); at += blockSize {
			end := min(at+blockSize, len(data))
			c := deflate(data[at:end], end == len(data))
			chunks = append(chunks, c)
			size += int64(len(c))
		}
		if worthwhile(it.size, size) {
			return packed{method: zip.Deflate, chunks: chunks, size: size}
		}
	}
	return packed{method: zip.Store, chunks: [][]byte{data}, size: it.size}
}

// worthwhile says whether content of size bytes is kept deflated to packed bytes: when it got
// smaller, and not so much that Read would take it for a bomb.
func worthwhile(size, packed int64) bool {
	return packed < size && !tooDense(size, packed)
}

func tooDense(size, packed int64) bool {
	return size > RatioFrom && size > MaxRatio*packed
}
