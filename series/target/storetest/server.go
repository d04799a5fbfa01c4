// Package storetest is a store that speaks S3, in memory, on this machine's loopback, with a proxy before it that
// does everything to a request that a network and a store can do. It is imported by tests only.
package storetest

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"log"
	"maps"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// Op is one request, numbered from 1.
type Op struct {
	N    int
	Kind string // head, get, put, list, uploads, begin, part, complete, abort
	Key  string // bucket and object
	Size int64  // of the request's body, as it says
}

// Fault is what happens to a request. The zero value lets it pass.
type Fault struct {
	// Cut breaks the connection after so many bytes of the request's body have come; the store hears nothing. Set
	// it with CutAt.
	cut   bool
	after int64
	// Lost carries the request out and breaks the connection before the answer.
	Lost bool
	// CutAnswer carries it out and breaks the connection after so many bytes of the answer's body; 0 is none. It is
	// less one, so that CutAnswer: 1 sends the head alone.
	CutAnswer int64
	// Short sends an answer that is whole by its own word, and lacks its last bytes.
	Short bool
	// Status answers without asking the store, with Code as the store's word and Header beside it.
	Status int
	Code   string
	Header http.Header
	// ETag carries it out and names another ETag.
	ETag string
	// Spoil carries it out with other bytes than were sent.
	Spoil bool
	// Silent says nothing until the client leaves.
	Silent bool
	// SilentBody says nothing more in the middle of the answer.
	SilentBody bool
	// Unconditional forgets If-None-Match.
	Unconditional bool
	// Drip sends the answer slowly: a few bytes at a time, with so long between.
	Drip time.Duration
}

// CutAt is a fault that breaks the connection after k bytes of the request's body.
func CutAt(k int64) Fault { return Fault{cut: true, after: k} }

// Server is the store and its proxy.
type Server struct {
	URL string
	// Fault is asked for every request. It may be exchanged between requests, under Do.
	fault func(Op) Fault
	// keys says which access key may use a bucket; a bucket that is not there takes every key but none at all.
	keys map[string]string

	open map[string]bool // buckets that strangers can read

	mu     sync.Mutex
	n      int
	log    []string // what came: kind and key
	heads  []http.Header
	store  http.Handler
	memory *s3mem.Backend
	writes map[string]int
	http   *httptest.Server
}

// New starts a store with buckets; it ends with the test.
func New(t testing.TB, buckets ...string) *Server {
	t.Helper()
	s := Start(buckets...)
	t.Cleanup(s.Close)
	return s
}

// Start starts a store with buckets; whoever calls closes it.
func Start(buckets ...string) *Server {
	memory := s3mem.New()
	for _, b := range buckets {
		if err := memory.CreateBucket(b); err != nil {
			panic(err)
		}
	}
	s := &Server{memory: memory, store: gofakes3.New(memory, gofakes3.WithTimeSkewLimit(0)).Server(), writes: map[string]int{}, keys: map[string]string{}, open: map[string]bool{}}
	s.http = httptest.NewUnstartedServer(s)
	s.http.Config.ErrorLog = log.New(io.Discard, "", 0) // connections are broken on purpose
	s.http.Start()
	s.URL = s.http.URL
	return s
}

// Bucket makes another bucket.
func (s *Server) Bucket(name string) {
	if err := s.memory.CreateBucket(name); err != nil {
		panic(err)
	}
}

// Close ends the server.
func (s *Server) Close() {
	s.http.CloseClientConnections()
	s.http.Close()
}

// Faults sets what happens to requests from now on; nil for nothing.
func (s *Server) Faults(f func(Op) Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fault = f
}

// Owner lets only one access key use a bucket.
func (s *Server) Owner(bucket, key string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.keys[bucket] = key
}

// Open lets strangers read a bucket.
func (s *Server) Open(bucket string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open[bucket] = true
}

// Ops is the number of requests so far.
func (s *Server) Ops() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.n
}

// Log is every request so far, as "kind bucket/key".
func (s *Server) Log() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.log...)
}

// Writes tells how often an object was stored; the name is bucket/key.
func (s *Server) Writes(name string) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.writes[name]
}

// Tree is every object of a bucket by its key.
func (s *Server) Tree(bucket string) map[string]string {
	out := map[string]string{}
	list, err := s.memory.ListBucket(bucket, nil, gofakes3.ListBucketPage{})
	if err != nil {
		panic(err)
	}
	for _, c := range list.Contents {
		out[c.Key] = string(s.object(bucket, c.Key))
	}
	return out
}

func (s *Server) object(bucket, key string) []byte {
	o, err := s.memory.GetObject(bucket, key, nil)
	if err != nil {
		panic(err)
	}
	defer o.Contents.Close()
	data, err := io.ReadAll(o.Contents)
	if err != nil {
		panic(err)
	}
	return data
}

// Put stores an object, or removes it with nil, without a request, as a stranger would.
func (s *Server) Put(bucket, key string, data []byte) {
	if data == nil {
		if _, err := s.memory.DeleteObject(bucket, key); err != nil {
			panic(err)
		}
		return
	}
	if _, err := s.memory.PutObject(bucket, key, map[string]string{}, bytes.NewReader(data), int64(len(data)), nil); err != nil {
		panic(err)
	}
}

// Uploads is the number of uploads in parts that were begun and neither completed nor removed.
func (s *Server) Uploads(bucket string) int {
	w := httptest.NewRecorder()
	s.store.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/"+bucket+"?uploads", nil))
	return strings.Count(w.Body.String(), "<UploadId>")
}

// kindOf sorts requests.
func kindOf(r *http.Request) string {
	q := r.URL.Query()
	_, object, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	switch {
	case r.Method == http.MethodHead:
		return "head"
	case r.Method == http.MethodGet && q.Has("uploads"):
		return "uploads"
	case r.Method == http.MethodGet && object == "":
		return "list"
	case r.Method == http.MethodGet:
		return "get"
	case r.Method == http.MethodPost && q.Has("uploads"):
		return "begin"
	case r.Method == http.MethodPut && q.Has("partNumber"):
		return "part"
	case r.Method == http.MethodPost && q.Has("uploadId"):
		return "complete"
	case r.Method == http.MethodDelete && q.Has("uploadId"):
		return "abort"
	case r.Method == http.MethodPut:
		return "put"
	}
	return strings.ToLower(r.Method)
}

// ServeHTTP is http.Handler's.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	key := strings.TrimPrefix(r.URL.Path, "/")
	bucket, _, _ := strings.Cut(key, "/")
	s.mu.Lock()
	s.n++
	op := Op{s.n, kindOf(r), key, r.ContentLength}
	s.log = append(s.log, op.Kind+" "+op.Key)
	s.heads = append(s.heads, r.Header.Clone())
	var f Fault
	if s.fault != nil {
		f = s.fault(op)
	}
	owner := s.keys[bucket]
	anybody := s.open[bucket] && (op.Kind == "get" || op.Kind == "head")
	s.mu.Unlock()

	if f.Silent {
		_, _ = io.Copy(io.Discard, r.Body)
		<-r.Context().Done()
		return
	}
	if f.cut {
		_, _ = io.CopyN(io.Discard, r.Body, f.after)
		drop(w)
		return
	}
	if f.Status != 0 {
		_, _ = io.Copy(io.Discard, r.Body)
		maps.Copy(w.Header(), f.Header)
		refuse(w, f.Status, f.Code)
		return
	}
	if !anybody && !allowed(r, owner) {
		_, _ = io.Copy(io.Discard, r.Body)
		refuse(w, http.StatusForbidden, "AccessDenied")
		return
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, 1<<30))
	if err != nil || r.ContentLength >= 0 && int64(len(body)) != r.ContentLength {
		drop(w) // a body that did not come whole is never stored
		return
	}
	s.answer(w, s.carryOut(r, op, body, f), op, f)
}

// carryOut hands a whole request to the store.
func (s *Server) carryOut(r *http.Request, op Op, body []byte, f Fault) *httptest.ResponseRecorder {
	if f.Spoil && len(body) > 0 {
		body[len(body)/2] ^= 0x20
		r.Header.Del("X-Amz-Checksum-Sha256")
	}
	conditional := r.Header.Get("If-None-Match") == "*"
	if f.Unconditional && conditional {
		r.Header.Del("If-None-Match")
		conditional = false
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	rec := httptest.NewRecorder()
	s.mu.Lock()
	defer s.mu.Unlock()
	if op.Kind == "complete" && conditional { // the store in memory knows conditions for single requests only
		bucket, object, _ := strings.Cut(op.Key, "/")
		if o, err := s.memory.HeadObject(bucket, object); err == nil && o != nil {
			refuse(rec, http.StatusPreconditionFailed, "PreconditionFailed")
			return rec
		}
	}
	s.store.ServeHTTP(rec, r)
	if rec.Code/100 == 2 && (op.Kind == "put" || op.Kind == "complete") {
		s.writes[op.Key]++
	}
	return rec
}

// answer sends what the store said, as the fault wants it.
func (s *Server) answer(w http.ResponseWriter, rec *httptest.ResponseRecorder, op Op, f Fault) {
	if f.Lost {
		drop(w)
		return
	}
	maps.Copy(w.Header(), rec.Header())
	if f.ETag != "" {
		w.Header().Set("ETag", f.ETag)
	}
	data := rec.Body.Bytes()
	if op.Kind == "head" {
		w.WriteHeader(rec.Code)
		return
	}
	if f.Short && len(data) > 0 {
		data = data[:len(data)*2/3]
	}
	w.Header().Set("Content-Length", fmt.Sprint(len(data)))
	w.WriteHeader(rec.Code)
	if f.CutAnswer > 0 || f.SilentBody {
		k := min(int64(len(data)), max(0, f.CutAnswer-1))
		if f.SilentBody {
			k = int64(len(data) / 2)
		}
		_, _ = w.Write(data[:k])
		_ = http.NewResponseController(w).Flush()
		if f.SilentBody {
			time.Sleep(2 * time.Second)
		}
		drop(w)
		return
	}
	if f.Drip > 0 {
		for len(data) > 0 {
			k := min(len(data), max(1, len(data)/4))
			_, _ = w.Write(data[:k])
			_ = http.NewResponseController(w).Flush()
			data = data[k:]
			time.Sleep(f.Drip)
		}
		return
	}
	_, _ = w.Write(data)
}

// drop breaks the connection, with a reset.
func drop(w http.ResponseWriter) {
	c, _, err := http.NewResponseController(w).Hijack()
	if err != nil {
		panic(http.ErrAbortHandler)
	}
	if tcp, ok := c.(*net.TCPConn); ok {
		_ = tcp.SetLinger(0)
	}
	c.Close()
}

// refuse answers as a store does.
func refuse(w http.ResponseWriter, status int, code string) {
	type answer struct {
		XMLName xml.Name `xml:"Error"`
		Code    string
		Message string
	}
	data, _ := xml.Marshal(answer{Code: code, Message: "the test says " + code})
	w.Header().Set("Content-Type", "application/xml")
	w.Header().Set("Content-Length", fmt.Sprint(len(data)))
	w.WriteHeader(status)
	_, _ = w.Write(data)
}

// allowed says whether a request bears a key that may use the bucket: in its head, or in its address while that
// lasts. Signatures themselves are judged by the published examples (package blob).
func allowed(r *http.Request, owner string) bool {
	credential := ""
	if q := r.URL.Query(); q.Get("X-Amz-Credential") != "" {
		at, err := time.Parse("20060102T150405Z", q.Get("X-Amz-Date"))
		life, err2 := time.ParseDuration(q.Get("X-Amz-Expires") + "s")
		if err != nil || err2 != nil || life > 7*24*time.Hour || time.Now().After(at.Add(life)) || r.Method != http.MethodGet {
			return false
		}
		credential = q.Get("X-Amz-Credential")
	} else if _, rest, ok := strings.Cut(r.Header.Get("Authorization"), "Credential="); ok {
		credential = rest
	}
	key, _, _ := strings.Cut(credential, "/")
	return key != "" && (owner == "" || key == owner)
}

// Sent is the head of the last request that wrote an object; the name is bucket/key.
func (s *Server) Sent(name string) http.Header {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := len(s.log) - 1; i >= 0; i-- {
		if s.log[i] == "put "+name || s.log[i] == "begin "+name {
			return s.heads[i]
		}
	}
	return http.Header{}
}

// Heads are the heads of all requests so far.
func (s *Server) Heads() []http.Header {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]http.Header(nil), s.heads...)
}
