package main

import (
	"io"
	"net"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// freePortCmd puts a free port of loopback into a variable: freeport NAME.
func freePortCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: freeport NAME")
	}
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	ts.Check(err)
	ts.Setenv(args[0], strconv.Itoa(l.Addr().(*net.TCPAddr).Port))
	ts.Check(l.Close())
}

// fetchCmd asks a server on loopback until it answers with a status and, where one is named, a body that matches a
// pattern: fetch STATUS PORT PATH [PATTERN] [Name: header]. PATH is sent as it is written. What never comes within
// half a minute fails.
func fetchCmd(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: fetch STATUS PORT PATH [PATTERN] [Name: header]")
	}
	pattern := regexp.MustCompile("")
	method := "GET"
	header := map[string]string{}
	for _, a := range args[3:] {
		if name, value, ok := strings.Cut(a, ": "); ok && !strings.ContainsAny(name, " .*") {
			header[name] = value
			continue
		}
		pattern = regexp.MustCompile(a)
	}
	path := args[2]
	if m, p, ok := strings.Cut(path, " "); ok {
		method, path = m, p
	}
	last := "no answer"
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		r, err := http.NewRequest(method, "http://127.0.0.1:"+args[1]+"/", nil)
		ts.Check(err)
		r.URL.Opaque = path
		for n, v := range header {
			if n == "Host" {
				r.Host = v
			}
			r.Header.Set(n, v)
		}
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			last = err.Error()
			continue
		}
		body, err := io.ReadAll(io.LimitReader(resp.Body, 8<<20))
		resp.Body.Close()
		if err != nil {
			last = err.Error()
			continue
		}
		last = resp.Status + "\n" + string(body)
		if strconv.Itoa(resp.StatusCode) == args[0] && pattern.Match(body) {
			_, err := ts.Stdout().Write(body)
			ts.Check(err)
			return
		}
	}
	ts.Fatalf("%s %s never gives %s %s: %.2000s", method, path, args[0], pattern, last)
}
