package blob

import (
	"context"
	"net"
	"net/http"
	"time"
)

// transport is the network, with a limit for every silence: a connection that stops in the middle of a body must
// not hold up a release for ever. Large bodies may take as long as they flow.
func transport(silence time.Duration) *http.Transport {
	dialer := &net.Dialer{Timeout: min(silence, 30*time.Second), KeepAlive: 30 * time.Second}
	return &http.Transport{
		Proxy: http.ProxyFromEnvironment,
		DialContext: func(ctx context.Context, network, addr string) (net.Conn, error) {
			c, err := dialer.DialContext(ctx, network, addr)
			if err != nil {
				return nil, err
			}
			return &impatient{c, silence}, nil
		},
		ForceAttemptHTTP2:     true,
		MaxIdleConns:          8,
		IdleConnTimeout:       silence,
		TLSHandshakeTimeout:   min(silence, 15*time.Second),
		ResponseHeaderTimeout: silence,
		DisableCompression:    true, // bytes are compared as they lie there
	}
}

// impatient is a connection on which every read and write must get somewhere in time.
type impatient struct {
	net.Conn
	silence time.Duration
}

func (c *impatient) Read(p []byte) (int, error) {
	c.SetReadDeadline(time.Now().Add(c.silence))
	return c.Conn.Read(p)
}

func (c *impatient) Write(p []byte) (int, error) {
	c.SetWriteDeadline(time.Now().Add(c.silence))
	return c.Conn.Write(p)
}
