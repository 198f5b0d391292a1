// Package simulate takes weather to heat: every site, every candidate design,
// every outlet temperature, month by month.
//
// A Plan is made once: it tabulates the optics of all designs, which sites
// share. For a site, the sun, the light and the linear loss of every hour are
// worked out once for all designs; the kernel then marches all designs through
// the year side by side. Sites run in parallel and arrive in table order;
// memory grows with workers and designs, not with sites. Where Options.Pick
// asks for it, a few designs of each site go through the year again with inputs
// changed, so that the uncertainty of heat can be told without simulating more.
package simulate
