# SPDX-License-Identifier: MIT
# How sharp is a plain lme4 analysis of the same simulated nursery? Run by hand (a minute a world; needs r-cran-lme4):
#   build/bench_projection dump FOLDER N && Rscript tests/bench/reference.R FOLDER
# Rate: Poisson with form, size, variety, season and observation-cell effects. Rot: binomial with cloglog link and
# variety, season effects, per stage. Then 4000 Monte Carlo draws a variety from modes and conditional variances.
# Drying is left out (it takes about one division in a hundred). Prints the mean quantile loss of both, in % of mean.
suppressMessages(library(lme4))
folder <- commandArgs(TRUE)[1]
take <- function(name) read.csv(file.path(folder, paste0(name, ".csv")))
rate <- take("rate"); rot <- take("rot"); stock <- take("stock"); came <- take("came")
season <- max(rot$season)
rate <- rate[rate$clumps > 0, ]
rate$cell <- paste(rate$variety, rate$season)
control <- glmerControl(optimizer = "bobyqa", calc.derivs = FALSE)
m <- glmer(divisions ~ 1 + offset(log(clumps)) + (1 | form) + (1 | size) + (1 | variety) + (1 | season) + (1 | cell),
           rate, poisson, nAGQ = 0, control = control)
fit_rot <- function(stage) {
  d <- rot[rot$stage == stage & rot$weeks > 0 & rot$inspected > 0, ]
  d$cell <- paste(d$variety, d$season)
  glmer(cbind(rotten, inspected - rotten) ~ 1 + offset(log(weeks)) + (1 | variety) + (1 | season) + (1 | cell), d,
        binomial("cloglog"), nAGQ = 0, control = control)
}
h <- list(fit_rot(0), fit_rot(1))

# Draws of the linear predictor of one unit: each effect at its mode with its conditional sd, or from its prior.
draws <- 4000
set.seed(1)
tables <- function(model) {
  effects <- ranef(model, condVar = TRUE)
  list(fixed = fixef(model), se = sqrt(vcov(model)[1, 1]), sd = sapply(VarCorr(model), function(v) sqrt(v[1, 1])),
       mode = lapply(effects, function(e) setNames(e[, 1], rownames(e))),
       csd = lapply(effects, function(e) setNames(sqrt(attr(e, "postVar")[1, 1, ]), rownames(e))))
}
draw <- function(t, levels) {
  eta <- t$fixed + t$se * rnorm(draws)
  for (term in names(levels)) {
    key <- as.character(levels[[term]])
    known <- key %in% names(t$mode[[term]])
    centre <- if (known) t$mode[[term]][[key]] else 0
    spread <- if (known) t$csd[[term]][[key]] else t$sd[[term]]
    eta <- eta + centre + spread * rnorm(draws)
  }
  eta
}
tr <- tables(m); th <- lapply(h, tables)
levels <- c(.05, .1, .25, .5, .75, .9, .95)
loss <- function(q, y) mean(ifelse(y >= q, levels * (y - q), (1 - levels) * (q - y)))
total <- c(lme4 = 0, clumpwise = 0)
for (v in came$variety) {
  s <- stock[stock$variety == v, ]
  y <- came$came[came$variety == v]
  ours <- as.numeric(came[came$variety == v, 3:9])
  sum <- numeric(draws)
  if (nrow(s) > 0) {
    cell <- paste(v, season)
    eta <- draw(tr, list(form = s$form[1], size = s$size[1], variety = v, season = season, cell = cell))
    hazard <- lapply(th, function(t) exp(draw(t, list(variety = v, season = season, cell = cell))))
    for (i in seq_len(nrow(s))) {
      n <- rep(s$count[i], draws)
      if (s$stage[i] == 0)
        n <- rpois(draws, rbinom(draws, n, exp(-hazard[[1]] * s$clump_weeks[i])) * exp(eta))
      sum <- sum + rbinom(draws, n, exp(-hazard[[2]] * s$division_weeks[i]))
    }
  }
  total <- total + c(loss(as.numeric(quantile(sum, levels, type = 1)), y), loss(ours, y))
}
cat(sprintf("%s %.3f %% of mean\n", paste0("quantile_loss_", names(total)), 100 * total / sum(came$came)), sep = "")
