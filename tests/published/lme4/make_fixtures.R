# SPDX-License-Identifier: MIT
# Makes the fixtures of this folder: small data sets, and what lme4 and glmmTMB fit to them.
# Run here with: Rscript make_fixtures.R   (Debian packages r-cran-lme4, r-cran-glmmtmb)
#
# NAME.csv       variety,form,size,season,lot,exposure,trials,count   (numbers from 0; -1 = not used)
# expected.csv   name,tool,loglik,intercept,sd_form,sd_size,sd_variety,sd_season,sd_cell,sd_lot  (NA = not in the model)
#
# grouse: lme4's grouseticks (Elston et al. 2001, Parasitology 122:563): location = variety, brood = cell, chick = lot.
# cbpp:   lme4's cbpp (Lesnoff et al. 2004, Prev. Vet. Med. 64:91): herd = variety, period = season.
# Both come with lme4 under GPL-2 or later, and so do the two files made of them (README.md).
# The others are simulated here.
suppressPackageStartupMessages({ library(lme4); library(glmmTMB) })
terms <- c("form", "size", "variety", "season", "cell", "lot")
rows <- list()

fit <- function(name, d, use, family) {
  d$cell <- interaction(d$variety, d$season, drop = TRUE)
  for (t in terms) if (t %in% names(d)) d[[t]] <- factor(d[[t]])
  random <- paste0("(1|", use, ")", collapse = " + ")
  left <- if (family == "poisson") "count" else "cbind(count, trials - count)"
  f <- as.formula(paste(left, "~ 1 + offset(log(exposure)) +", random))
  fam <- if (family == "poisson") poisson() else binomial(link = "cloglog")
  a <- glmer(f, data = d, family = fam, nAGQ = 1,
             control = glmerControl(optimizer = "bobyqa", optCtrl = list(maxfun = 1e5, rhoend = 1e-8), calc.derivs = FALSE))
  b <- glmmTMB(f, data = d, family = fam)
  sa <- sapply(terms, function(t) if (t %in% use) attr(VarCorr(a)[[t]], "stddev") else NA)
  sb <- sapply(terms, function(t) if (t %in% use) attr(VarCorr(b)$cond[[t]], "stddev") else NA)
  add <- function(tool, ll, icpt, s) rows[[length(rows) + 1]] <<-
    data.frame(name = name, tool = tool, loglik = sprintf("%.10f", ll), intercept = sprintf("%.8f", icpt),
               t(setNames(sprintf("%.8f", s), paste0("sd_", terms))))
  add("lme4", as.numeric(logLik(a)), fixef(a)[[1]], sa)
  add("glmmTMB", as.numeric(logLik(b)), fixef(b)$cond[[1]], sb)
}

save <- function(name, d) {
  for (c in c("form", "size", "lot", "trials")) if (is.null(d[[c]])) d[[c]] <- -1
  write.csv(d[, c("variety", "form", "size", "season", "lot", "exposure", "trials", "count")], paste0(name, ".csv"),
            row.names = FALSE, quote = FALSE)
}

world <- function(seed, nv, ns, per, forms, sizes, sd) {
  set.seed(seed)
  form <- sample(forms, nv, TRUE) - 1; size <- sample(sizes, nv, TRUE) - 1
  d <- expand.grid(k = seq_len(per), season = seq_len(ns) - 1, variety = seq_len(nv) - 1)
  d <- d[runif(nrow(d)) < 0.7, ]
  d$form <- form[d$variety + 1]; d$size <- size[d$variety + 1]
  e <- function(n, s) rnorm(n, 0, s)
  cell <- e(nv * ns, sd["cell"])
  d$eta <- e(forms, sd["form"])[d$form + 1] + e(sizes, sd["size"])[d$size + 1] + e(nv, sd["variety"])[d$variety + 1] +
    e(ns, sd["season"])[d$season + 1] + cell[d$variety * ns + d$season + 1] + e(nrow(d), sd["lot"])
  d$lot <- seq_len(nrow(d)) - 1
  d
}

d <- world(11, 60, 5, 3, 6, 4, c(form = .25, size = .15, variety = .35, season = .2, cell = .15, lot = 0))
d$exposure <- sample(5:40, nrow(d), TRUE); d$count <- rpois(nrow(d), d$exposure * exp(1.6 + d$eta)); d$lot <- -1
save("counts_full", d); fit("counts_full", d, c("form", "size", "variety", "season", "cell"), "poisson")

d <- world(12, 14, 4, 2, 2, 2, c(form = 0, size = 0, variety = .3, season = .15, cell = 0, lot = 0))
d$exposure <- sample(1:6, nrow(d), TRUE); d$count <- rpois(nrow(d), d$exposure * exp(0.5 + d$eta)); d$lot <- -1
save("counts_small", d); fit("counts_small", d, c("variety", "season"), "poisson")

d <- world(13, 50, 4, 3, 3, 3, c(form = 0, size = 0, variety = .6, season = .3, cell = 0, lot = .5))
d$exposure <- sample(c(4, 6, 8, 10), nrow(d), TRUE); d$trials <- sample(20:120, nrow(d), TRUE)
d$count <- rbinom(nrow(d), d$trials, 1 - exp(-d$exposure * exp(log(0.01) + d$eta)))
save("rot_lots", d); fit("rot_lots", d, c("variety", "season", "lot"), "binomial")

d <- world(14, 40, 5, 2, 3, 3, c(form = 0, size = 0, variety = .5, season = .3, cell = .3, lot = 0))
d$exposure <- sample(c(2, 5, 9), nrow(d), TRUE); d$trials <- sample(30:200, nrow(d), TRUE); d$lot <- -1
d$count <- rbinom(nrow(d), d$trials, 1 - exp(-d$exposure * exp(log(0.02) + d$eta)))
save("rot_cells", d); fit("rot_cells", d, c("variety", "season", "cell"), "binomial")

data(grouseticks)
g <- data.frame(variety = as.integer(grouseticks$LOCATION) - 1, season = as.integer(grouseticks$BROOD) - 1,
                lot = seq_len(nrow(grouseticks)) - 1, exposure = 1, count = grouseticks$TICKS)
save("grouse", g); fit("grouse", g, c("variety", "cell", "lot"), "poisson")

data(cbpp)
g <- data.frame(variety = as.integer(cbpp$herd) - 1, season = as.integer(cbpp$period) - 1, exposure = 1,
                trials = cbpp$size, count = cbpp$incidence)
save("cbpp", g); fit("cbpp", g, c("variety", "season"), "binomial")

# Plants lost from planting to the crate, and up to a walk on the way (model/establish: the offset is the part of the losses so far).
d <- world(15, 40, 6, 2, 3, 3, c(form = 0, size = 0, variety = .4, season = .3, cell = .25, lot = 0))
d$exposure <- ifelse(d$k == 1, 1, 0.75 * sqrt(sample(c(0.25, 0.49, 0.81), nrow(d), TRUE)))
d$trials <- sample(20:150, nrow(d), TRUE); d$lot <- -1
d$count <- rbinom(nrow(d), d$trials, 1 - exp(-d$exposure * exp(log(0.13) + d$eta)))
save("establish", d); fit("establish", d, c("variety", "season", "cell"), "binomial")

write.csv(do.call(rbind, rows), "expected.csv", row.names = FALSE, quote = FALSE)
cat(sprintf("lme4 %s, glmmTMB %s, %s\n", packageVersion("lme4"), packageVersion("glmmTMB"), R.version.string))
