// The engine as a page has it: engine.answer(requestText) gives the answer's text.
Module["answer"] = function (request) {
    var size = lengthBytesUTF8(request) + 1;
    var given = _malloc(size);
    stringToUTF8(request, given, size);
    var answer = _libblade_answer(given);
    _free(given);
    var text = UTF8ToString(answer);
    _libblade_release(answer);
    return text;
};
