# SPDX-License-Identifier: MIT
# Likelihoods of counts of which some are only known as "so many or more", by R's own negative binomial (package stats), and
# where they are largest (optim, BFGS). The figures in tests/published/test_demand.c were printed by R 4.2.2 (Debian 12,
# r-base-core 4.2.2.20221110): Rscript tests/published/data/demand.R
nll <- function(p, x, c) {
  mu <- exp(p[1]); size <- exp(-p[2])
  -sum(dnbinom(x[!c], size = size, mu = mu, log = TRUE)) -
    sum(pnbinom(x[c] - 1, size = size, mu = mu, lower.tail = FALSE, log.p = TRUE))
}
fit <- function(x, c) {
  o <- optim(c(log(mean(x)), 0), nll, x = x, c = c, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))
  o <- optim(o$par, nll, x = x, c = c, method = "BFGS", control = list(reltol = 1e-16))
  c(mu = exp(o$par[1]), alpha = exp(o$par[2]), k = exp(-o$par[2]), loglik = -o$value)
}
options(digits = 12)
print(R.version.string)
mites <- rep(0:7, c(70, 38, 17, 10, 9, 3, 2, 1))  # Bliss & Fisher 1953, red mites on 150 apple leaves
print(fit(mites, rep(FALSE, 150)))
print(fit(pmin(mites, 4), mites >= 4))            # the same, four or more not told apart
s <- c(41, 60, 38, 75, 52, 60); c <- c(FALSE, TRUE, FALSE, TRUE, FALSE, TRUE)
for (mu in c(40, 60, 90)) for (a in c(.02, .1, .5)) cat(mu, a, format(-nll(c(log(mu), log(a)), s, c), digits = 15), "\n")
print(fit(s, c))
