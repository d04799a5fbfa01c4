package blob

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"

	awshttp "github.com/aws/aws-sdk-go-v2/aws/transport/http"
	"github.com/aws/smithy-go"
)

// attempts is how often a request is sent before it counts as failed.
const attempts = 5

// longest is the longest wait that a store may ask for; a release that is begun again later loses nothing.
const longest = time.Minute

// backoff is the wait after the n-th attempt: 1, 2, 4, 8 s.
func backoff(n int) time.Duration { return time.Second << (n - 1) }

// Failure is an answer of the store, or none.
type Failure struct {
	Target string
	Doing  string
	Name   string // the object, "" for none
	Status int    // of HTTP, 0 if no answer came
	Code   string // the store's own word
	Text   string
	err    error
}

func (f *Failure) Error() string {
	name := ""
	if f.Name != "" {
		name = fmt.Sprintf(" %q", f.Name)
	}
	return fmt.Sprintf("%s: %s%s: %s", f.Target, f.Doing, name, f.Text)
}

// Is lets a missing object be fs.ErrNotExist, and a cancelled request what the context says.
func (f *Failure) Is(err error) bool {
	switch err {
	case fs.ErrNotExist:
		return f.Status == http.StatusNotFound && f.Code != "NoSuchBucket"
	case context.Canceled, context.DeadlineExceeded:
		return errors.Is(f.err, err)
	}
	return false
}

// final is an error that another attempt would not mend.
type final struct{ err error }

func (f *final) Error() string { return f.err.Error() }
func (f *final) Unwrap() error { return f.err }

func finally(err error) error {
	if err == nil {
		return nil
	}
	return &final{err}
}

// try does something with the store until it is done, cannot be done, or was tried often enough.
func (t *Target) try(ctx context.Context, doing, name string, do func(context.Context) error) error {
	for n := 1; ; n++ {
		err := do(ctx)
		var f *final
		switch {
		case err == nil:
			return nil
		case errors.As(err, &f):
			return f.err
		case ctx.Err() != nil:
			return fmt.Errorf("%s: %s %q: %w", t, doing, name, ctx.Err())
		}
		wait, again := worthwhile(err, t.opt.Now())
		if !again || n == attempts || wait > longest {
			return t.explain(doing, name, err, n, wait)
		}
		if err := t.opt.Sleep(ctx, max(wait, backoff(n))); err != nil {
			return fmt.Errorf("%s: %s %q: %w", t, doing, name, err)
		}
	}
}

// answer is the HTTP answer that an error tells of, nil if there was none.
func answer(err error) *http.Response {
	var r *awshttp.ResponseError
	if errors.As(err, &r) && r.Response != nil && r.Response.Response != nil && r.Response.StatusCode != 0 { // 0: none came
		return r.Response.Response
	}
	return nil
}

func status(err error) int {
	if r := answer(err); r != nil {
		return r.StatusCode
	}
	return 0
}

func code(err error) string {
	var a smithy.APIError
	if errors.As(err, &a) {
		return a.ErrorCode()
	}
	return ""
}

// worthwhile says whether another attempt may help, and what wait the store asks for.
func worthwhile(err error, now time.Time) (wait time.Duration, again bool) {
	r := answer(err)
	if r != nil {
		wait = retryAfter(r.Header.Get("Retry-After"), now)
		switch r.StatusCode {
		case http.StatusRequestTimeout, http.StatusConflict, http.StatusTooManyRequests, http.StatusInternalServerError, http.StatusBadGateway, http.StatusServiceUnavailable, http.StatusGatewayTimeout:
			return wait, true
		}
		switch code(err) {
		// 200 with an error in its body, and 400 for a connection that was too slow: S3 API, "Error responses".
		// A part that is not known any more belongs to an upload that is begun anew.
		case "InternalError", "SlowDown", "ServiceUnavailable", "RequestTimeout", "NoSuchUpload", "InvalidPart":
			return wait, true
		}
		// An answer of success that could not be read was cut.
		return wait, r.StatusCode/100 == 2
	}
	var cert *tls.CertificateVerificationError
	var record tls.RecordHeaderError
	if errors.As(err, &cert) || errors.As(err, &record) || strings.Contains(err.Error(), "server gave HTTP response to HTTPS client") {
		return 0, false
	}
	return 0, true
}

// retryAfter reads seconds or a date (RFC 9110 section 10.2.3).
func retryAfter(v string, now time.Time) time.Duration {
	if s, err := strconv.Atoi(strings.TrimSpace(v)); err == nil && s >= 0 {
		return time.Duration(min(s, 7*24*3600)) * time.Second
	}
	if at, err := http.ParseTime(v); err == nil {
		return max(0, min(at.Sub(now), 7*24*time.Hour))
	}
	return 0
}

func (t *Target) fail(doing, name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %s %q: %w", t, doing, name, err)
}

// explain turns what the store or the network said into a sentence without keys.
func (t *Target) explain(doing, name string, err error, n int, wait time.Duration) error {
	var f *Failure
	if errors.As(err, &f) { // of a request within this one
		return f
	}
	f = &Failure{Target: t.String(), Doing: doing, Name: name, Status: status(err), Code: code(err), err: err}
	r := answer(err)
	switch {
	case r == nil:
		f.Text = t.clean(innermost(err))
	case r.StatusCode/100 == 3:
		host := "another place"
		if u, err := url.Parse(r.Header.Get("Location")); err == nil && u.Host != "" {
			host = fmt.Sprintf("%.80q", t.clean(u.Host))
		}
		f.Text = fmt.Sprintf("the store points to %s (status %d), and keys are not carried there: correct region or endpoint in the channel's `to`", host, r.StatusCode)
	case f.Code == "NoSuchBucket":
		f.Text = "there is no such bucket: make it in the store first, or correct its name"
	case r.StatusCode == http.StatusNotFound:
		f.Text = "it is not there"
	case r.StatusCode == http.StatusForbidden || r.StatusCode == http.StatusUnauthorized:
		f.Text = fmt.Sprintf("the store refuses the key of %s%s: look at what it may do, and at this machine's clock", t.keys.From, t.said(err))
	default:
		f.Text = fmt.Sprintf("the store answers with status %d%s", r.StatusCode, t.said(err))
	}
	if wait > longest {
		f.Text += fmt.Sprintf("; it asks to be left alone for %s: run again then", wait.Round(time.Second))
	} else if n > 1 {
		f.Text += fmt.Sprintf("; tried %d times", n)
	}
	return f
}

// said is what the store says of an error, in brackets.
func (t *Target) said(err error) string {
	var a smithy.APIError
	if !errors.As(err, &a) {
		return ""
	}
	text := t.clean(strings.Trim(a.ErrorCode()+": "+a.ErrorMessage(), ": "))
	if text == "" {
		return ""
	}
	return " (" + text + ")"
}

// clean keeps a stranger's text short, on one line, and free of our keys.
func (t *Target) clean(text string) string {
	for _, secret := range []string{t.keys.key.AccessKeyID, t.keys.key.SecretAccessKey, t.keys.key.SessionToken} {
		if secret != "" {
			text = strings.ReplaceAll(text, secret, "…")
		}
	}
	text = strings.Map(func(c rune) rune {
		if unicode.IsPrint(c) {
			return c
		}
		return ' '
	}, text)
	if runes := []rune(text); len(runes) > 200 {
		text = string(runes[:200]) + "…"
	}
	return strings.TrimSpace(text)
}

// innermost is the part of a network's error that says what happened, without the request around it.
func innermost(err error) string {
	var u *url.Error
	if errors.As(err, &u) {
		err = u.Err
	}
	var op *smithy.OperationError
	if errors.As(err, &op) {
		err = op.Err
	}
	var d *smithy.DeserializationError
	if errors.As(err, &d) {
		return "its answer was cut or is no answer of a store"
	}
	return err.Error()
}
