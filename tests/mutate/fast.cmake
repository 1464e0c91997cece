# The tree of scripts/mutate is built for a quick build; the models, whose tests compute for seconds, for a quick run.
cmake_language(DEFER CALL target_compile_options cw_model PRIVATE -O3)
