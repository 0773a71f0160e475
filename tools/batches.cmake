# Most of the time in which a source is compiled, or looked at by clang-tidy, goes into headers that others include as well. So
# sources that do not stand in each other's way (batches.py) can be taken together.

# sources_of(TARGET VARIABLE): those that we wrote, but for the main of the tests.
function(sources_of target variable)
    get_target_property(sources ${target} SOURCES)
    get_target_property(source_dir ${target} SOURCE_DIR)
    list(TRANSFORM sources REPLACE "^([^/].*)$" "${source_dir}/\\1")
    foreach(source ${sources})
        # Not by a regular expression: the name of the folder may hold a +.
        cmake_path(IS_PREFIX PROJECT_BINARY_DIR ${source} generated)
        if(generated OR source STREQUAL ${PROJECT_SOURCE_DIR}/tests/main.cpp)
            list(REMOVE_ITEM sources ${source})
        endif()
    endforeach()
    set(${variable} ${sources} PARENT_SCOPE)
endfunction()

# batches_of(VARIABLE MOST SOURCE...): batches of at most so many as a list, the sources of a batch apart by a space.
function(batches_of variable most)
    find_package(Python3 COMPONENTS Interpreter REQUIRED)
    execute_process(COMMAND ${Python3_EXECUTABLE} ${CMAKE_CURRENT_FUNCTION_LIST_DIR}/batches.py ${most} ${ARGN}
        OUTPUT_VARIABLE batches OUTPUT_STRIP_TRAILING_WHITESPACE COMMAND_ERROR_IS_FATAL ANY)
    string(REPLACE ";" " " batches "${batches}")
    string(REPLACE "\n" ";" batches "${batches}")
    set(${variable} "${batches}" PARENT_SCOPE)
endfunction()

# compile_in_batches(TARGET...): each batch as one unit. `redefinition of ...`: two sources of one use a name that was free
# when the batches were laid out; configure again.
function(compile_in_batches)
    foreach(target ${ARGN})
        sources_of(${target} sources)
        batches_of(batches 8 ${sources})
        set(number 0)
        foreach(batch ${batches})
            string(REPLACE " " ";" batch "${batch}")
            set_source_files_properties(${batch} TARGET_DIRECTORY ${target} PROPERTIES UNITY_GROUP batch_${number})
            math(EXPR number "${number} + 1")
        endforeach()
        set_target_properties(${target} PROPERTIES UNITY_BUILD ON UNITY_BUILD_MODE GROUP)
    endforeach()
endfunction()
